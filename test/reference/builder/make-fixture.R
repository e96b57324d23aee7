# The figures that the builder shows, by R: nlme 3.1-162 and lme4 1.1-31 on R 4.2.2.
#   Rscript test/reference/builder/make-fixture.R
# Readings are drawn here with a fixed seed (invented, in the shape of a drying run): 9 leaves with 8 readings each.
suppressMessages({ library(nlme); library(lme4) })
set.seed(20261126)
leaves <- 9; each <- 8
d <- do.call(rbind, lapply(seq_len(leaves), function(i) {
  height <- rnorm(1, 0, 0.08); tilt <- rnorm(1, 0, 0.12)
  rwc <- round(seq(0.98, 0.55, length.out = each) + runif(each, -0.01, 0.01), 4)
  data.frame(leaf = sprintf("L%02d", i), rwc = rwc, t = round(exp(-0.95 + height + (-1.02 + tilt) * (rwc - 0.75) - 1.02 * 0.75 + rnorm(each, 0, 0.012)), 6))
}))
d$y <- log(d$t)
at <- 0.8
figures <- function(fit, slopes) {
  b <- fixef(fit); v <- vcov(fit)
  vc <- if (slopes) getVarCov(fit) else matrix(c(getVarCov(fit)[1, 1], 0, 0, 0), 2)
  x <- c(1, at)
  list(intercept = b[[1]], slope = b[[2]], seIntercept = sqrt(v[1, 1]), seSlope = sqrt(v[2, 2]),
       betweenLeavesPoints = 100 * sqrt(drop(x %*% as.matrix(vc) %*% x)) / abs(b[[2]]), withinLeavesPoints = 100 * fit$sigma / abs(b[[2]]),
       logLikRestricted = as.numeric(logLik(fit)))
}
control <- lmeControl(msTol = 1e-12, tolerance = 1e-10, msMaxIter = 500, maxIter = 500, opt = "optim")
height <- lme(y ~ rwc, random = ~ 1 | leaf, data = d, method = "REML", control = control)
sloped <- lme(y ~ rwc, random = ~ rwc | leaf, data = d, method = "REML", control = control)
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-11))
again <- lmer(y ~ rwc + (rwc | leaf), data = d, REML = TRUE, control = tight)
ml <- list(HEIGHT = lmer(y ~ rwc + (1 | leaf), d, REML = FALSE, control = tight), HEIGHT_AND_SLOPE = lmer(y ~ rwc + (rwc | leaf), d, REML = FALSE, control = tight))
naive <- lm(y ~ rwc, d)
half <- drop(sqrt(c(1, at) %*% vcov(naive) %*% c(1, at))) * qt(0.975, df.residual(naive))
# AIC of T itself: the readings were fitted as ln T, whose density is that of T times T.
jacobian <- -sum(log(d$t))
aicc <- function(logLik, k) -2 * (logLik + jacobian) + 2 * k + 2 * k * (k + 1) / (nrow(d) - k - 1)
# Each leaf left out: its readings read off the mean line of the others.
errors <- unlist(lapply(unique(d$leaf), function(leaf) {
  rest <- lme(y ~ rwc, random = ~ 1 | leaf, data = d[d$leaf != leaf, ], method = "REML", control = control)
  own <- d[d$leaf == leaf, ]
  100 * ((own$y - fixef(rest)[[1]]) / fixef(rest)[[2]] - own$rwc)
}))
effects <- ranef(height)[, 1]
# A curve with a floor, leaves differing in height: REML of the tangent, drawn anew until it rests (what nlme calls REML keeps the ratio of
# the spreads of ML); ML by nlme itself. AIC of T as it is.
floorOf <- deriv(~ f + a * exp(r * x), c("f", "a", "r"), function(f, a, r, x) NULL)
bend <- function(data, theta) {
  for (turn in 1:60) {
    g <- do.call(floorOf, c(as.list(theta), list(x = data$rwc))); data$J <- attr(g, "gradient")
    data$w <- data$t - as.numeric(g) + as.numeric(data$J %*% theta)
    fit <- lme(w ~ J - 1, random = ~ 1 | leaf, data = data, method = "REML", control = control)
    moved <- max(abs(fixef(fit) / theta - 1)); theta <- setNames(unname(fixef(fit)), c("f", "a", "r"))
    if (moved < 1e-12) break
  }
  list(fit = fit, theta = theta)
}
start <- c(f = 0.03, a = 0.5, r = -1.5)
bent <- bend(d, start)
bentMl <- nlme(t ~ floorOf(f, a, r, rwc), d, fixed = f + a + r ~ 1, random = f ~ 1 | leaf, start = bent$theta, method = "ML", control = nlmeControl(tolerance = 1e-7, pnlsTol = 1e-7, minScale = 1e-12))
bentSlope <- bent$theta[["a"]] * bent$theta[["r"]] * exp(bent$theta[["r"]] * at)
bentErrors <- unlist(lapply(unique(d$leaf), function(leaf) {
  rest <- bend(d[d$leaf != leaf, ], bent$theta)$theta; own <- d[d$leaf == leaf, ]
  100 * (log((own$t - rest[["f"]]) / rest[["a"]]) / rest[["r"]] - own$rwc)
}))
gradient <- attr(do.call(floorOf, c(as.list(bent$theta), list(x = at))), "gradient")
out <- list(
  about = "Made by make-fixture.R; R 4.2.2, nlme 3.1-162, lme4 1.1-31", at = at,
  readings = lapply(seq_len(nrow(d)), function(i) list(leaf = d$leaf[i], rwc = d$rwc[i], t = d$t[i])),
  height = figures(height, FALSE), heightAndSlope = figures(sloped, TRUE),
  lme4Slope = fixef(again)[[2]], lme4Sd = as.numeric(attr(VarCorr(again)$leaf, "stddev")), lme4Sigma = sigma(again),
  naiveHalfWidth = half, naiveAicc = aicc(as.numeric(logLik(naive)), 3),
  aicc = list(HEIGHT = aicc(as.numeric(logLik(ml$HEIGHT)), 4), HEIGHT_AND_SLOPE = aicc(as.numeric(logLik(ml$HEIGHT_AND_SLOPE)), 6)),
  leaveOneLeafOut = sqrt(mean(errors^2)), leaveOneLeafOutBias = mean(errors),
  exponential = list(parameters = unname(bent$theta), standardErrors = unname(sqrt(diag(vcov(bent$fit)))), slope = bentSlope,
    betweenLeavesPoints = 100 * sqrt(getVarCov(bent$fit)[1, 1]) / abs(bentSlope), withinLeavesPoints = 100 * bent$fit$sigma / abs(bentSlope),
    meanSePoints = 100 * sqrt(drop(gradient %*% vcov(bent$fit) %*% t(gradient))) / abs(bentSlope), aicc = -2 * as.numeric(logLik(bentMl)) + 2 * 5 + 2 * 5 * 6 / (nrow(d) - 6),
    leaveOneLeafOut = sqrt(mean(bentErrors^2)), leaveOneLeafOutBias = mean(bentErrors),
    shrunk = setNames(as.list(100 * ranef(bent$fit)[, 1] / abs(bentSlope)), rownames(ranef(bent$fit)))),
  shrunk = setNames(as.list(100 * effects / abs(fixef(height)[[2]])), rownames(ranef(height)))
)
# JSON by hand: no package beyond nlme and lme4 is asked for.
json <- function(x) {
  if (is.list(x)) {
    items <- vapply(x, json, "")
    if (is.null(names(x))) return(paste0("[", paste(items, collapse = ",\n"), "]"))
    return(paste0("{", paste0("\"", names(x), "\": ", items, collapse = ", "), "}"))
  }
  text <- if (is.character(x)) paste0("\"", x, "\"") else format(x, digits = 15, scientific = FALSE, trim = TRUE)
  if (length(text) == 1) text else paste0("[", paste(text, collapse = ", "), "]")
}
writeLines(json(out), "test/reference/builder/builder.json")
