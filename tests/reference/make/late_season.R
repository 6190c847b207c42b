# Reference values for the invented season of late planting and replacements, written to
# tests/reference/expected/late-season.json.
# Run from the repository's root: Rscript tests/reference/make/late_season.R
# From the crew's tables alone: curves with delayed entry by survfit(Surv(start, stop, event))
# (survival), totals by lm on logarithms, death rates by glm (complementary log-log) with the
# bias-reduced cluster covariance and Satterthwaite df of clubSandwich (CR2; Pustejovsky &
# Tipton 2018).
source("tests/reference/make/tools.R")
suppressMessages({library(survival); library(clubSandwich)})
versions <- versions_of("survival", "clubSandwich", "jsonlite")
read <- function(name) read.csv(file.path("tests/reference/data/late-season", name), colClasses = "character")
start <- as.Date("2025-04-01")
days <- function(x) as.numeric(as.Date(x) - start)
layout <- read("layout.csv"); events <- read("events.csv"); visits <- read("visits.csv")
visits$day <- days(visits$date)
lives <- rbind(
  with(read("plants.csv"), data.frame(plot, plant, start = days(planted_on), first = TRUE)),
  with(events, data.frame(plot, plant = new_plant, start = days(date), first = FALSE)))
key <- with(lives, paste(plot, plant)); seen <- with(visits, paste(plot, plant))
last <- tapply(visits$day, seen, max)[key]
died <- tapply(visits$status == "dead", seen, any)[key]
lives <- data.frame(lives, stop = as.numeric(last), died = as.numeric(died))
never <- is.na(lives$stop)  # replaced on the last days: never visited
lives$stop[never] <- lives$start[never]; lives$died[never] <- 0
lives <- cbind(lives, layout[match(lives$plot, layout$plot), c("block", "watering")])

for (arm in sort(unique(lives$watering))) {
  mine <- lives[lives$watering == arm & lives$stop > lives$start, ]
  f <- survfit(Surv(start, stop, died) ~ 1, mine)
  for (i in which(f$n.event > 0)) {
    t <- f$time[i]
    case(paste("season", arm, t, "share"), f$surv[i], "1e-9")
    # those at risk when the next visit comes: entered by now, and alive at this visit
    alive <- mine$stop > t | (mine$stop == t & mine$died == 0)
    case(paste("season", arm, t, "seen alive"), sum(mine$start <= t & alive), "1e-12")
  }
  own <- lives[lives$watering == arm & lives$first, ]
  g <- survfit(Surv(stop - start, died) ~ 1, own)
  for (i in which(g$n.event > 0)) case(paste("own", arm, g$time[i], "share"), g$surv[i], "1e-9")
}

# the share of places: first plant or its replacement alive at the end
ended <- with(lives, stop == 140 & died == 0)
for (arm in sort(unique(lives$watering))) {
  mine <- lives$watering == arm
  case(paste("stand", arm, "originals"), sum(ended & lives$first & mine), "1e-12")
  case(paste("stand", arm, "replacements"), sum(ended & !lives$first & mine), "1e-12")
}

# plot totals with what replacements bore, without their plots, without what they bore
picks <- read("picks.csv")
picks$late <- paste(picks$plot, picks$plant) %in% with(events, paste(plot, new_plant))
held <- unique(events$plot)
ratio <- function(name, kg) {
  arms <- factor(layout$watering, c("hand watering", "capillary wick"))
  fit <- lm(log(kg) ~ layout$block + arms)
  row <- summary(fit)$coefficients["armscapillary wick", ]
  ends <- confint(fit)["armscapillary wick", ]
  case(paste(name, "ratio"), exp(row[1]), "1e-9")
  case(paste(name, "se"), row[2], "1e-9")
  case(paste(name, "df"), fit$df.residual, "1e-12")
  case(paste(name, "low"), exp(ends[1]), "1e-9")
  case(paste(name, "high"), exp(ends[2]), "1e-9")
  case(paste(name, "p"), row[4], "1e-8")
}
total <- function(rows) as.numeric(tapply(as.numeric(rows$mass_kg), factor(rows$plot, layout$plot), sum))
ratio("totals as picked", total(picks))
ratio("totals of plots without replacements", ifelse(layout$plot %in% held, NA, total(picks)))
ratio("totals of first plants", total(picks[!picks$late, ]))

# death rates of the first plants over days from their own planting, visits every 14 days;
# of one cause, plants that the other took are at risk until last seen alive. Steps and blocks
# without deaths tell nothing. Fewer than 8 deaths a block: at least as wide as if plants died
# each for itself.
own <- lives[lives$first, ]
rates <- function(name, died, sparse) {
  last <- ifelse(own$died == 1 & died == 0, -1, 0) + (own$stop - own$start) / 14
  k <- rep(seq_len(nrow(own)), last)
  rows <- data.frame(own[k, c("plot", "block", "watering")], step = sequence(last))
  rows$died <- as.numeric(died[k] == 1 & rows$step == last[k])
  rows <- rows[rows$step %in% rows$step[rows$died == 1] & rows$block %in% rows$block[rows$died == 1], ]
  rows$arm <- factor(rows$watering, c("hand watering", "capillary wick"))
  g <- glm(died ~ factor(step) - 1 + block + arm, binomial("cloglog"), rows, epsilon = 1e-15, maxit = 200)
  # the weighted rows of the last step as an ordinary regression: with unequal weights vcovCR of
  # the glm itself takes another square root of the same matrix (se 0.182 for all deaths), which
  # is not the same for rows of single plants as for rows of units
  slope <- g$family$mu.eta(g$linear.predictors); spread <- sqrt(g$family$variance(fitted(g)))
  x <- model.matrix(g) * slope / spread
  z <- (rows$died - fitted(g)) / spread + x %*% coef(g)
  flat <- lm(z ~ x - 1)
  v <- vcovCR(flat, rows$plot, "CR2")
  test <- coef_test(flat, v, test = "Satterthwaite")
  i <- which(names(coef(g)) == "armcapillary wick")
  half <- qt(0.975, test$df[i]) * sqrt(v[i, i])
  plain <- qnorm(0.975) * sqrt(vcov(g)[i, i])
  case(paste(name, "ratio"), exp(coef(g)[[i]]), "1e-7")
  if (!sparse || half > plain) {
    case(paste(name, "se"), sqrt(v[i, i]), "1e-6")
    case(paste(name, "df"), test$df[i], "1e-5")
  }
  if (!sparse) case(paste(name, "p"), test$p_Satt[i], "1e-5")
  half <- if (sparse) max(half, plain) else half
  case(paste(name, "low"), exp(coef(g)[[i]] - half), "1e-6")
  case(paste(name, "high"), exp(coef(g)[[i]] + half), "1e-6")
}
rates("death rates", own$died, FALSE)
# log-rank scores: martingale residuals of a model without treatments (Breslow's ties, blocks as
# strata), summed by plot; by the plots' own scatter and by that of single plants, larger p
score <- residuals(coxph(Surv(stop - start, died) ~ strata(block), own, ties = "breslow"), "martingale")
sums <- as.numeric(tapply(score, factor(own$plot, layout$plot), sum))
plots <- anova(lm(sums ~ layout$block + layout$watering))
spread <- tapply(score^2, own$block, function(s) sum(s) / (length(s) - 1))
sign <- ifelse(layout$watering == "capillary wick", 1, -1) / 6
f <- sum(sign * sums)^2 / sum(sign^2 * 8 * spread[layout$block])
df <- nrow(own) - nrow(layout)
p <- pf(f, 1, df, lower.tail = FALSE)
own_p <- plots["layout$watering", "Pr(>F)"]
if (p < own_p) { f <- plots["layout$watering", "F value"]; df <- 5; p <- own_p }
case("score F", f, "1e-9")
case("score df", df, "1e-12")
case("score p", p, "1e-8")
why <- visits[visits$status == "dead", ]
own$cause <- ifelse(own$died == 1, why$cause[match(paste(own$plot, own$plant), paste(why$plot, why$plant))], "none")
for (cause in c("drought", "disease")) rates(paste("death rates of", cause), as.numeric(own$cause == cause), TRUE)
for (arm in sort(unique(own$watering))) {
  f <- survfit(Surv(stop - start, factor(cause, c("none", "drought", "disease"))) ~ 1, own[own$watering == arm, ])
  case(paste("incidence", arm, "drought"), f$pstate[nrow(f$pstate), 2], "1e-11")
  case(paste("incidence", arm, "disease"), f$pstate[nrow(f$pstate), 3], "1e-11")
}
write_cases("late-season", data = "an invented season, tests/reference/data/late-season",
  source = "make/late_season.py", versions, "late_season.R")
