# The figures of a transfer study and of an adjusted calibration, by R: nlme 3.1-162 on R 4.2.2.
#   Rscript test/reference/transfer/make-fixture.R
# Readings are drawn here with a fixed seed (invented, in the shape of drying runs): 9 leaves of a given calibration, 7 own ones that lie higher.
suppressMessages(library(nlme))
set.seed(20261127)
draw <- function(prefix, leaves, shift, slope) do.call(rbind, lapply(seq_len(leaves), function(i) {
  height <- rnorm(1, 0, 0.06)
  rwc <- round(seq(0.97, 0.56, length.out = 8) + runif(8, -0.01, 0.01), 4)
  data.frame(leaf = sprintf("%s%02d", prefix, i), rwc = rwc, t = round(exp(-1.72 + shift + height + slope * (rwc - 0.75) + rnorm(8, 0, 0.012)), 6))
}))
given <- draw("G", 9, 0, -1.02); own <- draw("O", 7, 0.09, -0.97)
given$y <- log(given$t); own$y <- log(own$t)
control <- lmeControl(msTol = 1e-12, tolerance = 1e-10, msMaxIter = 500, maxIter = 500, opt = "optim")
fit <- function(d) lme(y ~ rwc, random = ~ 1 | leaf, data = d, method = "REML", control = control)
g <- fit(given); o <- fit(own)
bg <- fixef(g); bo <- fixef(o); vg <- vcov(g); vo <- vcov(o)
range <- c(max(min(given$rwc), min(own$rwc)), min(max(given$rwc), max(own$rwc)))
x <- seq(range[1], range[2], length.out = 21)
off <- 100 * (bo[[1]] - bg[[1]] + (bo[[2]] - bg[[2]]) * x) / bg[[2]]
# To first order, from both covariances; leaves say how well each is known (Welch and Satterthwaite).
varOwn <- sapply(x, function(r) drop(c(1, r) %*% vo %*% c(1, r))) * (100 / bg[[2]])^2
varGiven <- sapply(seq_along(x), function(i) { r <- x[i] + off[i] / 100; drop(c(1, r) %*% vg %*% c(1, r)) }) * (100 / bg[[2]])^2
df <- (varOwn + varGiven)^2 / (varOwn^2 / (7 - 1) + varGiven^2 / (9 - 1))
half <- qt(0.95, df) * sqrt(varOwn + varGiven)
d <- bo - bg
statistic <- drop(t(d) %*% solve(vo + vg) %*% d) / 2
# Read by the given line: leaf by leaf.
read <- (own$y - bg[[1]]) / bg[[2]] - own$rwc
bias <- 100 * tapply(read, own$leaf, mean)
between <- getVarCov(g)[1, 1]
promised <- sapply(names(bias), function(leaf) { r <- mean(own$rwc[own$leaf == leaf]); 100 * qt(0.975, 8) * sqrt(drop(c(1, r) %*% vg %*% c(1, r)) + between + g$sigma^2 / 8) / abs(bg[[2]]) })
# Adjusted: one slope and one spread, a height of its own for either.
both <- rbind(cbind(own, beside = 0), cbind(given, beside = 1))
a <- lme(y ~ rwc + beside, random = ~ 1 | leaf, data = both, method = "REML", control = control)
out <- list(
  about = "Made by make-fixture.R; R 4.2.2, nlme 3.1-162",
  given = lapply(seq_len(nrow(given)), function(i) list(leaf = given$leaf[i], rwc = given$rwc[i], t = given$t[i])),
  own = lapply(seq_len(nrow(own)), function(i) list(leaf = own$leaf[i], rwc = own$rwc[i], t = own$t[i])),
  slopeRatio = bo[[2]] / bg[[2]], offset = off[11], offsetStandardError = sqrt(varOwn + varGiven)[11],
  worst = max(abs(off) + half), worstAfterOffset = max(abs(off - off[11]) + half),
  commonLineF = statistic, commonLineP = pf(statistic, 2, 6, lower.tail = FALSE),
  bias = mean(bias), biasLow = mean(bias) - qt(0.975, 6) * sd(bias) / sqrt(7), rms = 100 * sqrt(mean(read^2)),
  inside = sum(abs(bias) <= promised), insideLow = binom.test(sum(abs(bias) <= promised), 7)$conf.int[1], promisedFirst = promised[[1]],
  adjusted = list(a = fixef(a)[[1]], c = fixef(a)[[2]], seA = sqrt(vcov(a)[1, 1]), seC = sqrt(vcov(a)[2, 2]), cov = vcov(a)[1, 2], residualSd = a$sigma, betweenSd = sqrt(getVarCov(a)[1, 1]))
)
json <- function(x) {
  if (is.list(x)) {
    items <- vapply(x, json, "")
    if (is.null(names(x))) return(paste0("[", paste(items, collapse = ",\n"), "]"))
    return(paste0("{", paste0("\"", names(x), "\": ", items, collapse = ", "), "}"))
  }
  text <- if (is.character(x)) paste0("\"", x, "\"") else format(x, digits = 15, scientific = FALSE, trim = TRUE)
  if (length(text) == 1) text else paste0("[", paste(text, collapse = ", "), "]")
}
writeLines(json(out), "test/reference/transfer/transfer.json")
