# Reference values for grouped hazards, all causes and one cause at a time, written to
# tests/reference/expected/hazards.json.
# Run from the repository's root: Rscript tests/reference/make/hazards.R
# Lives in steps of equal length; glm with the complementary log-log link (Prentice & Gloeckler
# 1978), clusters by clubSandwich's CR2 with Satterthwaite df on the weighted rows of the last
# step, written as an ordinary regression: with unequal weights vcovCR of the glm itself takes
# another square root, which depends on how rows are put together. Beside them the Cox model on
# the days as they are (coxph, Efron's ties, rows as clusters), to which short steps must come
# within 0.02.
source("tests/reference/make/tools.R")
suppressMessages({library(survival); library(clubSandwich)})
versions <- versions_of("survival", "clubSandwich", "jsonlite")

# died in (step - 1, step], or known alive up to the end of the last whole step
stepped <- function(time, died, by) ifelse(died, ceiling(time / by), floor(time / by))
grouped <- function(name, time, died, arm, by, cluster = NULL, block = NULL) {
  last <- stepped(time, died, by)
  k <- rep(seq_along(time), last)
  rows <- data.frame(step = sequence(last), died = 0, arm = arm[k], who = k)
  rows$cluster <- if (is.null(cluster)) k else cluster[k]
  rows$block <- if (is.null(block)) 1 else block[k]
  rows$died <- as.numeric(died[k] & rows$step == last[k])
  # steps in which no one died, or every one, tell nothing
  part <- ave(rows$died, rows$step)
  rows <- rows[part > 0 & part < 1, ]
  form <- if (is.null(block)) died ~ factor(step) - 1 + arm else died ~ factor(step) - 1 + arm + factor(block)
  g <- glm(form, binomial("cloglog"), rows, epsilon = 1e-15, maxit = 200)
  i <- which(names(coef(g)) == "arm")
  case(paste(name, "log ratio"), coef(g)[[i]], "1e-6")
  if (is.null(cluster)) return(invisible())
  slope <- g$family$mu.eta(g$linear.predictors); spread <- sqrt(g$family$variance(fitted(g)))
  x <- model.matrix(g) * slope / spread
  flat <- lm((rows$died - fitted(g)) / spread + x %*% coef(g) ~ x - 1)
  v <- vcovCR(flat, rows$cluster, "CR2")
  test <- coef_test(flat, v, test = "Satterthwaite")
  case(paste(name, "se"), sqrt(v[i, i]), "1e-6")
  case(paste(name, "df"), test$df[i], "1e-5")
  case(paste(name, "p"), test$p_Satt[i], "1e-4")
}
near <- function(name, fit) for (part in list(c("log ratio", coef(fit)[[1]]), c("se", sqrt(vcov(fit)[1, 1]))))
  cases[[length(cases) + 1]] <<- list(quantity = paste(name, "Cox", part[1]), value = part[2],
    kind = "program, another model", absolute = "0.02")

# two infections a patient, men 0 and women 1
k <- kidney
grouped("kidney", k$time, k$status == 1, k$sex - 1, 30, cluster = k$id)
# patients of four cell types; every one a unit
v <- veteran
grouped("veteran", v$time, v$status == 1, v$trt - 1, 60, cluster = seq_len(nrow(v)), block = v$celltype)
near("veteran", coxph(Surv(time, status) ~ trt + celltype, v, cluster = seq_len(nrow(v))))
# rats: three of a litter, one of them treated; every rat a unit, litters as blocks
r <- rats[rats$sex == "f", ]
grouped("litters", r$time, r$status == 1, r$rx, 26, cluster = seq_len(nrow(r)))
near("litters", coxph(Surv(time, status) ~ rx, r, cluster = seq_len(nrow(r))))
# one cause at a time, the other ending the watch: mgus2, women 0 and men 1
m <- mgus2
time <- with(m, ifelse(pstat == 1, ptime, futime))
event <- with(m, ifelse(pstat == 1, 1, 2 * death))
for (cause in 1:2) {
  name <- c("mgus2 malignancy", "mgus2 death")[cause]
  grouped(name, time, event == cause, as.numeric(m$sex == "M"), 24)
}

write_cases("hazards", data = c("survival kidney", "survival veteran", "survival rats", "survival mgus2"),
  source = paste(c("McGilchrist & Aisbett (1991)", "Kalbfleisch & Prentice (1980)",
    "Mantel, Bohidar & Ciminera (1977)", "Kyle et al. (2002)"), "as cited by the package"),
  versions, "hazards.R")
