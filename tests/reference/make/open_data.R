# Reference values for the open data sets under designs/open, written to
# tests/reference/expected/open-*.json. Run from the repository's root:
#   python tests/open/make_tables.py open-tables && Rscript tests/reference/make/open_data.R open-tables
# Strata by aov, comparisons by emmeans (Tukey by its distribution, Dunnett by integration
# below, since the quasi-random routine is good to three places only). The tables are the ones that the trial files read.
invisible(Sys.setlocale("LC_COLLATE", "C"))
suppressMessages({library(emmeans); library(jsonlite)})
from <- commandArgs(TRUE)[1]
versions <- c(R = as.character(getRversion()), sapply(c("emmeans", "jsonlite"),
  function(p) as.character(packageVersion(p))))
cases <- list()
case <- function(quantity, value, rel = "1e-9") cases[[length(cases) + 1]] <<-
  list(quantity = quantity, value = sprintf("%.17g", value), kind = "program, computed", relative = rel)
# p to an absolute bound: programs integrate the multivariate t to so many places, not digits
case_p <- function(quantity, value, bound) cases[[length(cases) + 1]] <<-
  list(quantity = quantity, value = sprintf("%.17g", value), kind = "program, computed", absolute = bound)
done <- function(name, source) {
  header <- list(data = paste0("designs/open/", name), source = source, program = as.list(versions),
                 script = "tests/reference/make/open_data.R")
  writeLines(toJSON(list(header = header, cases = cases), auto_unbox = TRUE, pretty = TRUE),
             paste0("tests/reference/expected/open-", name, ".json"))
  cases <<- list()
}
both <- function(name, table) merge(read.csv(file.path(from, name, "layout.csv"), stringsAsFactors = TRUE,
  na.strings = ""), read.csv(file.path(from, name, table)), by = "plot")
lines_of <- function(fit, names) {          # names: list(stratum, c(source = our name))
  s <- summary(fit)
  for (n in names) {
    t <- if (is.na(n$stratum)) s[[1]] else s[[n$stratum]][[1]]
    rownames(t) <- trimws(rownames(t))
    for (r in names(n$rows)) {
      row <- t[r, ]; our <- n$rows[[r]]
      case(paste(our, "df"), row[["Df"]]); case(paste(our, "sum of squares"), row[["Sum Sq"]])
      case(paste(our, "mean square"), row[["Mean Sq"]])
      if (our != "block" && !is.null(row[["F value"]]) && !is.na(row[["F value"]])) {
        case(paste(our, "F"), row[["F value"]]); case(paste(our, "p"), row[["Pr(>F)"]])
      }
    }
  }
}
# Dunnett for equal numbers (correlation 1/2), two-sided, by integrating over the shared
# control and the shared standard deviation (Dunnett, 1955)
pdunnett <- function(q, k, df) {
  given <- function(s) sapply(s, function(one) integrate(function(z)
    dnorm(z) * (pnorm(z + sqrt(2) * q * one) - pnorm(z - sqrt(2) * q * one))^k, -9, 9,
    rel.tol = 1e-11, subdivisions = 2000)$value)
  density <- function(s) 2 * s * df * dchisq(df * s^2, df)
  integrate(function(s) given(s) * density(s), 0, sqrt(qchisq(1 - 1e-15, df) / df),
    rel.tol = 1e-10, subdivisions = 2000)$value
}
pairs_of <- function(m, term, method, adjust, rel) {
  a <- as.data.frame(summary(contrast(m, method), infer = c(TRUE, TRUE), adjust = adjust))
  if (adjust == "mvt") {
    k <- nrow(a); df <- round(a$df[1], 6)
    crit <- uniroot(function(q) pdunnett(q, k, df) - 0.95, c(1.5, 6), tol = 1e-10)$root
    a$p.value <- sapply(abs(a$t.ratio), function(t) 1 - pdunnett(t, k, df))
    a$lower.CL <- a$estimate - crit * a$SE; a$upper.CL <- a$estimate + crit * a$SE
  }
  for (i in seq_len(nrow(a))) {
    our <- paste0(term, ": ", sub(" - ", " against ", gsub("[()]", "", a$contrast[i]), fixed = TRUE))
    case(paste(our, "estimate"), a$estimate[i]); case(paste(our, "se"), a$SE[i]); case(paste(our, "df"), a$df[i], "1e-6")
    case_p(paste(our, "p adjusted"), a$p.value[i], "1e-6"); case(paste(our, "low adjusted"), a$lower.CL[i], rel)
    case(paste(our, "high adjusted"), a$upper.CL[i], rel)
  }
}
emm_options(msg.interaction = FALSE, mvt.seed = 1)
set.seed(1)

d <- both("oats", "yields.csv")
fit <- aov(quarter_lb ~ variety * nitrogen + Error(block / whole_plot), data = d)
lines_of(fit, list(
  list(stratum = "Error: block", rows = c(Residuals = "block")),
  list(stratum = "Error: block:whole_plot", rows = c(variety = "variety", Residuals = "whole plot residual")),
  list(stratum = "Error: Within", rows = c(nitrogen = "nitrogen", "variety:nitrogen" = "variety x nitrogen", Residuals = "subplot residual"))))
pairs_of(emmeans(fit, "variety"), "variety tukey", "revpairwise", "tukey", "1e-5")
pairs_of(emmeans(fit, "nitrogen"), "nitrogen dunnett", "trt.vs.ctrl1", "mvt", "1e-5")
done("oats", "Yates 1935, as shipped with R's MASS")

d <- both("alfalfa", "yields.csv")
d$cutting <- relevel(factor(as.character(d$cutting)), "None")
fit <- aov(tons_per_acre ~ variety * cutting + Error(factor(block) / whole_plot), data = d)
lines_of(fit, list(
  list(stratum = "Error: factor(block)", rows = c(Residuals = "block")),
  list(stratum = "Error: factor(block):whole_plot", rows = c(variety = "variety", Residuals = "whole plot residual")),
  list(stratum = "Error: Within", rows = c(cutting = "cutting", "variety:cutting" = "variety x cutting", Residuals = "subplot residual"))))
pairs_of(emmeans(fit, "cutting"), "cutting dunnett", "trt.vs.ctrl1", "mvt", "1e-5")
done("alfalfa", "Snedecor & Cochran 1980, as shipped with R's nlme")

d <- both("plant-growth", "weights.csv")
fit <- aov(weight ~ group, data = d)
lines_of(fit, list(list(stratum = NA, rows = c(group = "treatment", Residuals = "plot residual"))))
pairs_of(emmeans(fit, "group"), "treatment tukey", "revpairwise", "tukey", "1e-5")
pairs_of(emmeans(fit, "group"), "treatment dunnett", "trt.vs.ctrl1", "mvt", "1e-5")
done("plant-growth", "Dobson 1983, as shipped with R")

d <- both("warp-breaks", "breaks.csv")
d$tension <- factor(d$tension, c("L", "M", "H"))
fit <- aov(breaks ~ wool * tension, data = d)
lines_of(fit, list(list(stratum = NA, rows = c(wool = "wool", tension = "tension",
  "wool:tension" = "wool x tension", Residuals = "plot residual"))))
pairs_of(emmeans(fit, "tension"), "tension tukey", "revpairwise", "tukey", "1e-5")
done("warp-breaks", "Tippett 1950, as shipped with R")

d <- both("kiwi-shade", "vines.csv")
m <- aggregate(yield_kg ~ block + shade, data = d, mean)
m$shade <- relevel(m$shade, "none")
fit <- aov(yield_kg ~ block + shade, data = m)
lines_of(fit, list(list(stratum = NA, rows = c(block = "block", shade = "treatment", Residuals = "plot residual"))))
pairs_of(emmeans(fit, "shade"), "treatment dunnett", "trt.vs.ctrl1", "mvt", "1e-5")
v <- summary(aov(yield_kg ~ block + shade + Error(plot), data = d))
within <- v[["Error: Within"]][[1]][["Mean Sq"]]; plots <- v[["Error: plot"]][[1]]["Residuals", "Mean Sq"]
case("component residual", within, "1e-6"); case("component plot", (plots - within) / 4, "1e-5")
done("kiwi-shade", "Snelgar, Manson & Martin 1992, as shipped with R's DAAG, means of plots")

d <- both("orchard-sprays", "decreases.csv")
d$row <- factor(d$row); d$column <- factor(d$column); d$solution <- relevel(d$solution, "H")
fit <- aov(decrease ~ row + column + solution, data = d)
lines_of(fit, list(list(stratum = NA, rows = c(solution = "treatment", Residuals = "plot residual"))))
pairs_of(emmeans(fit, "solution"), "treatment dunnett", "trt.vs.ctrl1", "mvt", "1e-5")
d$solution <- factor(as.character(d$solution))
pairs_of(emmeans(aov(decrease ~ row + column + solution, data = d), "solution"), "treatment tukey", "revpairwise", "tukey", "1e-5")
done("orchard-sprays", "Finney 1947, as shipped with R")
