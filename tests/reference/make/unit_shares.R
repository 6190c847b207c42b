# Reference values for shares alive of single plots in which plants were missed at visits,
# written to tests/reference/expected/unit-shares.json.
# Run from the repository's root: Rscript tests/reference/make/unit_shares.R
# survfit on intervals (Turnbull 1976) stops early, to about 3e-4 of a share; plots without a
# death between unequal visits are product-limit estimates (Kaplan & Meier 1958) to 1e-9.
source("tests/reference/make/tools.R")
suppressMessages(library(survival))
versions <- versions_of("survival", "jsonlite")
lives <- read.csv("tests/reference/data/plants-missed/data.csv")
day <- 80
for (plot in unique(lives$plot)) {
  own <- lives[lives$plot == plot, ]
  curve <- survfit(Surv(last_alive, first_dead, type = "interval2") ~ 1, own)
  case(paste("plot", plot), min(1, summary(curve)$surv), "2e-3")
}
# the same plants, every death known to have come just before it was seen: product-limit
for (plot in unique(lives$plot)) {
  own <- lives[lives$plot == plot, ]
  died <- !is.na(own$first_dead)
  time <- ifelse(died, own$first_dead, own$last_alive)
  curve <- survfit(Surv(time, died) ~ 1, own)
  case(paste("plot", plot, "known days"), summary(curve, times = day, extend = TRUE)$surv, "1e-9")
}
write_cases("unit-shares", "tests/reference/data/plants-missed/data.csv",
  "invented: ten plots of twelve plants, each found with chance 0.6 at a visit", versions,
  "unit_shares.R")
