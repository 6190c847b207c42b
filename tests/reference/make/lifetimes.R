# Reference values for survival curves, written to tests/reference/expected/lifetimes.json.
# Run from the repository's root: Rscript tests/reference/make/lifetimes.R
# Curves by survfit (interval-censored ones by its self-consistency algorithm driven to
# convergence), log-rank by survdiff, restricted means by print.survfit's rmean.
source("tests/reference/make/tools.R")
suppressMessages({library(survival); library(MASS); library(KMsurv)})
versions <- versions_of("survival", "MASS", "KMsurv", "jsonlite")

g <- gehan
for (arm in c("6-MP", "control")) {
  d <- g[g$treat == arm, ]
  for (scale in c("log-log", "log")) {
    f <- survfit(Surv(time, cens) ~ 1, data = d, conf.type = scale)
    dead <- f$n.event > 0
    for (i in which(dead)) {
      at <- paste(arm, f$time[i])
      if (scale == "log-log") {
        case(paste(at, "share"), f$surv[i], "1e-12")
        if (f$surv[i] > 0) case(paste(at, "se"), f$std.err[i] * f$surv[i], "1e-12")
      }
      if (f$surv[i] > 0) {
        case(paste(at, scale, "low"), f$lower[i], "1e-10")
        case(paste(at, scale, "high"), f$upper[i], "1e-10")
      }
    }
    q <- quantile(f, 0.5)
    case(paste(arm, "median"), q$quantile, "1e-12")
    case(paste(arm, scale, "median low"), q$lower, "1e-12")
    if (!is.na(q$upper)) case(paste(arm, scale, "median high"), q$upper, "1e-12")
  }
  m <- summary(survfit(Surv(time, cens) ~ 1, data = d), rmean = 23)$table
  case(paste(arm, "restricted mean 23"), m[["rmean"]], "1e-12")
  case(paste(arm, "restricted mean 23 se"), m[["se(rmean)"]], "1e-10")
}
s <- survdiff(Surv(time, cens) ~ treat, data = g)
case("log-rank chi-square", s$chisq, "1e-12")
for (i in 1:2) {
  case(paste("log-rank observed", names(s$n)[i]), s$obs[i], "1e-12")
  case(paste("log-rank expected", names(s$n)[i]), s$exp[i], "1e-12")
}
s <- survdiff(Surv(time, cens) ~ treat + strata(pair %% 3), data = g)
case("log-rank stratified chi-square", s$chisq, "1e-12")

# late entry: the same lives seen only after day pair %% 4
g$start <- pmin(g$pair %% 4, g$time - 1)
f <- survfit(Surv(start, time, cens) ~ 1, data = g[g$treat == "6-MP", ])
for (i in which(f$n.event > 0)) case(paste("late", f$time[i], "share"), f$surv[i], "1e-12")

# Interval-censored: self-consistency (Turnbull 1976) written out on a grid of half months,
# each half month (t, t + 0.5] or known day a cell; survfit's own algorithm stops early (it
# checks every few steps to 5e-5) and is asked to agree to 2e-3.
data(bcdeter)
for (arm in 1:2) {
  d <- bcdeter[bcdeter$treat == arm, ]
  low <- d$lower
  high <- ifelse(is.na(d$upper), Inf, d$upper)
  known <- low == high
  days <- unique(low[known])
  grid <- seq(0, 60, by = 0.5)
  cells <- rbind(cbind(grid, grid + 0.5), cbind(days, days), c(60.5, Inf))
  inside <- outer(seq_along(low), seq_len(nrow(cells)), function(i, j)
    ifelse(known[i], cells[j, 1] == cells[j, 2] & cells[j, 1] == low[i],
           ifelse(cells[j, 1] == cells[j, 2], low[i] < cells[j, 1] & cells[j, 1] <= high[i],
                  low[i] <= cells[j, 1] & cells[j, 2] <= high[i]))) * 1
  p <- rep(1 / nrow(cells), nrow(cells))
  for (k in 1:400000) {
    new <- p * colMeans(inside / c(inside %*% p))
    off <- max(abs(new - p)); p <- new
    if (off < 1e-16) break
  }
  share <- function(t) 1 - sum(p[cells[, 2] <= t])
  at <- list(c(5, 7, 8, 12, 25, 34, 40), c(5, 8, 12, 17, 19, 20, 25, 34, 36))[[arm]]
  f <- survfit(Surv(ifelse(low == 0, -1, low), ifelse(is.infinite(high), NA, high), type = "interval2") ~ 1)
  close <- summary(f, times = at + 0.4)$surv
  for (i in seq_along(at)) {
    if (abs(close[i] - share(at[i])) > 2e-3) message(arm, " ", at[i], ": survfit ", close[i], " not ", share(at[i]))
    case(paste("retraction", arm, at[i], "share"), share(at[i]), "1e-9")
  }
  case(paste("retraction", arm, "log likelihood"), sum(log(inside %*% p)), "1e-11")
}
write_cases("lifetimes", data = c("MASS gehan", "KMsurv bcdeter"),
  source = c("Gehan (1965), as cited by MASS", "Klein & Moeschberger (1997), as cited by KMsurv"),
  versions, "lifetimes.R")
