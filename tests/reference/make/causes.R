# Reference values for cumulative incidence, written to tests/reference/expected/causes.json.
# Run from the repository's root: Rscript tests/reference/make/causes.R
# Aalen-Johansen by survfit with several end states (survival), delayed entry by
# survfit(Surv(start, stop, event)).
source("tests/reference/make/tools.R")
suppressMessages(library(survival))
versions <- versions_of("survival", "jsonlite")
incidence <- function(name, time, event, at) {
  f <- survfit(Surv(time, factor(event, 0:2)) ~ 1)
  s <- summary(f, times = at)
  for (i in seq_along(at)) for (k in 1:2)
    case(paste(name, at[i], "cause", k), s$pstate[i, k + 1], "1e-12")
}
m <- mgus2
time <- with(m, ifelse(pstat == 1, ptime, futime))
event <- with(m, ifelse(pstat == 1, 1, 2 * death))
incidence("mgus2", time, event, c(12, 60, 120, 240, 360))
for (sex in c("F", "M")) incidence(paste("mgus2", sex), time[m$sex == sex], event[m$sex == sex], c(60, 120, 240))
incidence("small", 1:6, c(0, 1, 1, 2, 2, 0), 1:6)
# one minus the curve with the other cause censored, which overstates
naive <- survfit(Surv(time, event == 1) ~ 1)
for (t in c(60, 120, 240)) case(paste("mgus2", t, "naive"), 1 - summary(naive, times = t)$surv, "1e-12")
# delayed entry: lives of MASS gehan's placebo arm seen from day pair %% 4 on
library(MASS)
g <- gehan[gehan$treat == "control", ]
g$start <- pmin(g$pair %% 4, g$time - 1)
f <- survfit(Surv(start, time, cens) ~ 1, data = g)
for (i in which(f$n.event > 0)) {
  case(paste("late", f$time[i], "share"), f$surv[i], "1e-10")
  case(paste("late", f$time[i], "at risk"), f$n.risk[i], "1e-12")
}
write_cases("causes", data = c("survival mgus2", "MASS gehan", "six lives made up"),
  source = c("Kyle et al. (2002), as cited by survival", "Gehan (1965), as cited by MASS"),
  versions, "causes.R")
