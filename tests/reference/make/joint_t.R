# Reference values for the largest of correlated t statistics, written to
# tests/reference/expected/joint-t.json. Run from the repository's root:
# Rscript tests/reference/make/joint_t.R
# Probabilities by mvtnorm's pmvt, Genz & Bretz's randomized lattice rule driven to its
# stated error; where that asks for whole df, df are whole. Families by multcomp's glht on
# R's own data sets, one-way, adjusted p by the same rule.
invisible(Sys.setlocale("LC_COLLATE", "C"))
suppressMessages({library(mvtnorm); library(multcomp); library(jsonlite)})
set.seed(20250317)
txt <- function(x) sprintf("%.17g", x)
versions <- c(R = as.character(getRversion()),
  sapply(c("mvtnorm", "multcomp", "jsonlite"), function(p) as.character(packageVersion(p))))
rule <- GenzBretz(maxpts = 1e6, abseps = 2e-6, releps = 0)

pairs_of <- function(m) {
  k <- t(combn(m, 2)); w <- matrix(0, nrow(k), m)
  for (i in seq_len(nrow(k))) { w[i, k[i, 1]] <- -1; w[i, k[i, 2]] <- 1 }
  w
}
families <- list(
  list(name = "pairs of 3 unequal arms", variances = c(1, 1/3, 1/2), weights = pairs_of(3)),
  list(name = "pairs of 4 unequal arms", variances = 1 / c(3, 4, 6, 8), weights = pairs_of(4)),
  list(name = "pairs of 4 arms, one with few units", variances = 1 / c(2, 8, 8, 8),
       weights = pairs_of(4)),
  list(name = "pairs of 5 unequal arms", variances = 1 / c(3, 3, 5, 6, 8), weights = pairs_of(5)),
  list(name = "pairs of 6 unequal arms", variances = 1 / c(4, 5, 6, 6, 7, 8),
       weights = pairs_of(6)),
  list(name = "four named contrasts of 5 arms", variances = 1 / c(4, 4, 4, 4, 8),
       weights = rbind(c(1, -1, 0, 0, 0), c(.5, .5, -.5, -.5, 0), c(.25, .25, .25, .25, -1),
                       c(-3, -1, 1, 3, 0) / 4)),
  list(name = "five contrasts of rank 2", variances = c(1, 1/2, 1/4),
       weights = rbind(c(1, -1, 0), c(1, 0, -1), c(0, 1, -1), c(1, -.5, -.5), c(-.5, 1, -.5))))
cases <- list()
for (f in families) {
  cov <- f$weights %*% diag(f$variances) %*% t(f$weights)
  r <- cov2cor(cov)
  for (df in c(3, 8, 0)) for (c in c(1.5, 2.6, 3.8)) {
    got <- pmvt(lower = rep(-c, nrow(r)), upper = rep(c, nrow(r)), df = df, corr = r,
                algorithm = rule)
    cases[[length(cases) + 1]] <- list(family = f$name, variances = f$variances,
      weights = f$weights, df = df, c = c, tail = txt(1 - got), error = txt(attr(got, "error")))
  }
}
sets <- list()
one <- function(name, formula, data, factor, kind) {
  fit <- do.call(aov, list(formula, data = data))
  link <- do.call(mcp, setNames(list(kind), factor))
  s <- summary(glht(fit, linfct = link), test = adjusted("single-step", maxpts = 1e6,
                                                         abseps = 2e-6, releps = 0))
  ci <- confint(glht(fit, linfct = link), calpha = qmvt(0.95, tail = "both.tails",
    df = df.residual(fit), corr = cov2cor(vcov(glht(fit, linfct = link))),
    algorithm = GenzBretz(maxpts = 5e5, abseps = 1e-5, releps = 0))$quantile)
  sets[[length(sets) + 1]] <<- list(name = name, kind = kind,
    values = model.response(model.frame(fit)),
    cells = as.integer(model.frame(fit)[[2]]) - 1, contrasts = names(coef(s)),
    estimate = txt(as.numeric(s$test$coefficients)), p = txt(as.numeric(s$test$pvalues)),
    p_error = txt(attr(s$test$pvalues, "error")),
    low = txt(ci$confint[, "lwr"]), high = txt(ci$confint[, "upr"]))
}
one("chickwts", weight ~ feed, chickwts, "feed", "Tukey")
one("chickwts", weight ~ feed, chickwts, "feed", "Dunnett")
airquality$Month <- factor(airquality$Month)
one("airquality ozone by month", Ozone ~ Month, na.omit(airquality[, c("Ozone", "Month")]),
    "Month", "Tukey")
one("InsectSprays, square root", sqrt(count) ~ spray, InsectSprays, "spray", "Tukey")
writeLines(toJSON(list(script = "tests/reference/make/joint_t.R", versions = as.list(versions),
  tails = cases, sets = sets), auto_unbox = TRUE, digits = NA, pretty = 1),
  "tests/reference/expected/joint-t.json")
