# Reference values of smooth curves on open interval-censored data, written to
# tests/reference/expected/lifetimes-smooth.json.
# Run from the repository's root: Rscript tests/reference/make/lifetimes_smooth.R
# R's survival: survreg, Weibull and log-logistic, lives between two visits; left-censored
# where the interval begins at 0. KMsurv's two known days are exact.
source("tests/reference/make/tools.R")
suppressMessages({library(survival); library(KMsurv)})
versions <- versions_of("survival", "KMsurv", "jsonlite")
data(bcdeter)
b <- bcdeter
low <- ifelse(b$lower == 0, NA, b$lower)
for (shape in c("weibull", "loglogistic")) for (a in 1:2) {
  o <- b$treat == a
  f <- survreg(Surv(low[o], b$upper[o], type = "interval2") ~ 1, dist = shape,
    control = survreg.control(rel.tolerance = 1e-14, maxiter = 200))
  head <- paste("retraction", a, shape)
  case(paste(head, "scale"), exp(coef(f)[[1]]), "1e-7")
  case(paste(head, "power"), 1 / f$scale, "1e-7")
  case(paste(head, "median"), predict(f, type = "quantile", p = 0.5)[[1]], "1e-7")
  case(paste(head, "log likelihood"), f$loglik[1], "1e-11")
}
g <- MASS::gehan
for (arm in c("6-MP", "control")) for (shape in c("weibull", "loglogistic")) {
  f <- survreg(Surv(time, cens) ~ 1, g[g$treat == arm, ], dist = shape,
    control = survreg.control(rel.tolerance = 1e-14, maxiter = 200))
  head <- paste("remission", arm, shape)
  case(paste(head, "scale"), exp(coef(f)[[1]]), "1e-7")
  case(paste(head, "power"), 1 / f$scale, "1e-7")
  case(paste(head, "log likelihood"), f$loglik[1], "1e-11")
}
write_cases("lifetimes-smooth", data = c("KMsurv bcdeter", "MASS gehan"),
  source = c("Klein & Moeschberger (1997) as cited by the package",
    "Gehan (1965) as cited by the package"),
  versions, "lifetimes_smooth.R")
