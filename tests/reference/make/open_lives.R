# Reference values for open lifetimes that go through trial files, written to
# tests/reference/expected/open-veteran.json and open-litters.json.
# Run from the repository's root: Rscript tests/reference/make/open_lives.R
# By R's survival: curves and restricted means (survfit), shares at a day as means of
# pseudo-values (n S - (n - 1) S without one), log-rank scores as martingale residuals of a
# model without treatments (coxph, Breslow's ties, blocks as strata) with lm on the units'
# scores; death rates by glm (complementary log-log), steps at the days of death, and
# clubSandwich's CR2 on the weighted rows of its last step.
source("tests/reference/make/tools.R")
suppressMessages({library(survival); library(clubSandwich)})
versions <- versions_of("survival", "clubSandwich", "jsonlite")
lives <- function(set, time, died, arm, names, at, block = NULL) {
  cases <<- list()
  for (a in 0:1) {
    mine <- arm == a
    f <- survfit(Surv(time[mine], died[mine]) ~ 1)
    for (i in which(f$n.event > 0)) case(paste("curve", names[a + 1], f$time[i]), f$surv[i], "1e-10")
    share <- function(keep) summary(survfit(Surv(time[keep], died[keep]) ~ 1), times = at, extend = TRUE)$surv
    n <- sum(mine); all <- share(mine)
    # who was seen dead before, or alive for certain then, keeps the curve of all
    pseudo <- sapply(which(mine), function(j) n * all - (n - 1) * share(mine & seq_along(time) != j))
    case(paste("share", names[a + 1]), mean(pseudo), "1e-9")
    case(paste("restricted mean", names[a + 1]), summary(f, rmean = at)$table[["rmean"]], "1e-9")
  }
  strata <- if (is.null(block)) rep(1, length(time)) else block
  null <- coxph(Surv(time, died) ~ strata(strata), ties = "breslow")
  score <- residuals(null, type = "martingale")
  table <- anova(if (is.null(block)) lm(score ~ arm) else lm(score ~ factor(block) + arm))
  case("score F", table["arm", "F value"], "1e-8")
  case("score df", table["Residuals", "Df"], "1e-12")
  case("score p", table["arm", "Pr(>F)"], "1e-8")
  days <- sort(unique(time[died == 1]))
  rows <- do.call(rbind, lapply(seq_along(time), function(i) {
    k <- which(days <= time[i])
    if (!length(k)) return(NULL)
    data.frame(step = k, died = as.numeric(died[i] == 1 & days[k] == time[i]), arm = arm[i],
      who = i, block = strata[i])
  }))
  repeat {  # steps and blocks in which none died, or all, tell nothing
    n <- nrow(rows)
    for (by in c("step", "block")) {
      part <- ave(rows$died, rows[[by]])
      rows <- rows[part > 0 & part < 1, ]
    }
    if (nrow(rows) == n) break
  }
  form <- if (is.null(block)) died ~ factor(step) - 1 + arm else died ~ factor(step) - 1 + arm + factor(block)
  g <- glm(form, binomial("cloglog"), rows, epsilon = 1e-15, maxit = 500)
  i <- which(names(coef(g)) == "arm")
  case("death rates ratio", exp(coef(g)[[i]]), "1e-6")
  slope <- g$family$mu.eta(g$linear.predictors); spread <- sqrt(g$family$variance(fitted(g)))
  x <- model.matrix(g) * slope / spread
  flat <- lm((rows$died - fitted(g)) / spread + x %*% coef(g) ~ x - 1)
  v <- vcovCR(flat, rows$who, "CR2")
  test <- coef_test(flat, v, test = "Satterthwaite", coefs = paste0("x", "arm"))
  case("death rates se", sqrt(v[i, i]), "1e-5")
  case("death rates df", test$df, "1e-4")
}
v <- veteran
lives("veteran", v$time, v$status, v$trt - 1, c("standard", "test"), 100)
write_cases("open-veteran", data = "survival veteran",
  source = "Kalbfleisch & Prentice (1980), as cited by the package", versions, "open_lives.R")
r <- rats[rats$sex == "f", ]
lives("litters", 7 * r$time, r$status, r$rx, c("control", "treated"), 700, block = r$litter)
write_cases("open-litters", data = "survival rats",
  source = "Mantel, Bohidar & Ciminera (1977), as cited by the package", versions, "open_lives.R")
