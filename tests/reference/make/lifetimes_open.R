# Reference values on open survival data, written to
# tests/reference/expected/lifetimes-open.json.
# Run from the repository's root: Rscript tests/reference/make/lifetimes_open.R
# Everything by R's survival: survfit (Kaplan-Meier with Greenwood's errors, Nelson-Aalen,
# restricted means), survdiff (log-rank, plain and stratified). Grouped hazards by glm with the complementary log-log link.
source("tests/reference/make/tools.R")
suppressMessages(library(survival))
versions <- versions_of("survival", "jsonlite")
set <- function(name, time, died, arm, at, horizon) {
  for (a in sort(unique(arm))) {
    mine <- arm == a
    f <- survfit(Surv(time[mine], died[mine]) ~ 1)
    s <- summary(f, times = at)
    for (i in seq_along(at)) {
      case(paste(name, a, at[i], "share"), s$surv[i], "1e-11")
      case(paste(name, a, at[i], "se"), s$std.err[i], "1e-11")
    }
    # Nelson-Aalen: the sum of deaths over those at risk, ties as they are
    for (t in at) case(paste(name, a, t, "cumulative hazard"),
      sum((f$n.event / f$n.risk)[f$time <= t]), "1e-11")
    m <- summary(f, rmean = horizon)$table
    case(paste(name, a, "restricted mean"), m[["rmean"]], "1e-11")
    case(paste(name, a, "restricted mean se"), m[["se(rmean)"]], "1e-10")
    # the first day with half or fewer left; survfit takes the middle of a level stretch
    half <- f$time[f$surv <= 0.5 + 1e-12]
    if (length(half)) case(paste(name, a, "median"), min(half), "1e-12")
  }
  d <- survdiff(Surv(time, died) ~ arm)
  case(paste(name, "log-rank"), d$chisq, "1e-10")
  for (i in seq_along(d$exp)) {
    case(paste(name, "observed", i), d$obs[i], "1e-11")
    case(paste(name, "expected", i), d$exp[i], "1e-11")
  }
}
v <- veteran
set("veteran", v$time, v$status == 1, v$trt, c(30, 100, 200, 365), 365)
case("veteran by cell type log-rank", survdiff(Surv(time, status) ~ trt + strata(celltype), v)$chisq, "1e-10")
y <- retinopathy
set("retinopathy", y$futime, y$status == 1, y$trt, c(6, 12, 24, 48), 48)
case("retinopathy by patient log-rank", survdiff(Surv(futime, status) ~ trt + strata(id), y)$chisq, "1e-9")
r <- rats[rats$sex == "f", ]
set("litters", r$time, r$status == 1, r$rx, c(60, 80, 100), 100)
case("litters by litter log-rank", survdiff(Surv(time, status) ~ rx + strata(litter), r)$chisq, "1e-9")
k <- kidney
set("kidney", k$time, k$status == 1, k$sex, c(30, 90, 180), 180)

# mgus2: death and plasma cell malignancy, incidence with survfit's own standard errors is in
# causes.R; here the curve of either, by sex
m <- mgus2
time <- with(m, ifelse(pstat == 1, ptime, futime))
set("mgus2", time, m$pstat == 1 | m$death == 1, as.character(m$sex), c(60, 120, 240), 240)

# grouped hazards, steps of 10 weeks, arm and no blocks; plants are litter mates
cut <- pmin(ceiling(r$time / 10), 11)
rows <- do.call(rbind, lapply(seq_len(nrow(r)), function(i) {
  last <- if (r$status[i] == 1) cut[i] else floor(r$time[i] / 10)
  if (last < 1) return(NULL)
  data.frame(step = 1:last, died = as.numeric(1:last == last & r$status[i] == 1), rx = r$rx[i])
}))
# in the last step, cut off by the end, all that are left at risk die: it tells nothing
rows <- rows[rows$step <= 10, ]
rows <- rows[rows$step %in% unique(rows$step[rows$died == 1]), ]
g <- glm(died ~ factor(step) - 1 + rx, binomial("cloglog"), rows, epsilon = 1e-15, maxit = 100)
case("litters grouped log hazard ratio", coef(g)[["rx"]], "1e-7")

sources <- c("Kalbfleisch & Prentice (1980)", 
  "Huster, Brookmeyer & Self (1989)", "Mantel, Bohidar & Ciminera (1977)",
  "McGilchrist & Aisbett (1991)", "Kyle et al. (2002)")
write_cases("lifetimes-open", data = c("survival veteran", "survival retinopathy", "survival rats",
    "survival kidney", "survival mgus2"),
  source = paste(sources, "as cited by the package"),
  versions, "lifetimes_open.R")
