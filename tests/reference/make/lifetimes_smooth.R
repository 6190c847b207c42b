# Reference values of smooth curves on open interval-censored data, written to
# tests/reference/expected/lifetimes-smooth.json.
# Run from the repository's root: Rscript tests/reference/make/lifetimes_smooth.R
# R's survival: survreg, Weibull and log-logistic, lives between two visits; left-censored
# where the interval begins at 0. KMsurv's two known days are exact.
suppressMessages({library(survival); library(KMsurv); library(jsonlite)})
txt <- function(x) sprintf("%.17g", x)
versions <- c(R = as.character(getRversion()),
  sapply(c("survival", "KMsurv", "jsonlite"), function(p) as.character(packageVersion(p))))
cases <- list()
case <- function(quantity, value, rel) {
  cases[[length(cases) + 1]] <<- list(quantity = quantity, value = txt(value),
    kind = "program, computed", relative = rel)
}
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
header <- list(set = "lifetimes-smooth", data = c("KMsurv bcdeter", "MASS gehan"),
  source = c("Klein & Moeschberger (1997) as cited by the package",
    "Gehan (1965) as cited by the package"),
  program = paste(names(versions), versions, collapse = ", "),
  script = "tests/reference/make/lifetimes_smooth.R", digits = 17)
write(toJSON(list(header = header, cases = cases), auto_unbox = TRUE, pretty = 2),
      "tests/reference/expected/lifetimes-smooth.json")
