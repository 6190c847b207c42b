# Reference values for the sugar beets of the R package pbkrtest (its help page gives no other
# source), written to tests/reference/expected/beets.json with the data. Run from the
# repository's root: Rscript tests/reference/make/beets.R
# Harvest times stand on whole plots in blocks, sowing times on subplots inside: aov with
# Error. For yields the whole-plot mean square lies below that of subplots, so that lme4 puts
# the whole-plot variance at zero; its F (Kenward-Roger, pbkrtest) is kept beside, pooled.
suppressMessages({library(lme4); library(pbkrtest); library(jsonlite)})
txt <- function(x) sprintf("%.17g", x)
versions <- c(R = as.character(getRversion()), sapply(c("lme4", "pbkrtest", "jsonlite"),
  function(p) as.character(packageVersion(p))))
data(beets)
beets$whole <- interaction(beets$block, beets$harvest, drop = TRUE)
lines_of <- function(response) {
  fit <- suppressWarnings(aov(as.formula(paste(response, "~ block + harvest * sow + Error(whole)")), beets))
  out <- list()
  for (stratum in names(fit)) {
    table <- summary(fit[[stratum]])[[1]]
    for (i in seq_len(nrow(table))) out[[length(out) + 1]] <- list(
      stratum = sub("^Error: ", "", stratum), source = trimws(rownames(table)[i]),
      df = table[i, "Df"], squares = txt(table[i, "Sum Sq"]),
      f = if (!is.na(table[i, "F value"])) txt(table[i, "F value"]),
      p = if (!is.na(table[i, "Pr(>F)"])) txt(table[i, "Pr(>F)"]))
  }
  out
}
pooled <- function(response) {
  options(contrasts = c("contr.sum", "contr.poly"))
  fit <- suppressMessages(lmer(as.formula(paste(response, "~ block + harvest * sow + (1 | whole)")), beets))
  rows <- diag(length(fixef(fit)))[attr(model.matrix(fit), "assign") == 2, , drop = FALSE]
  found <- KRmodcomp(fit, rows)$stats
  list(singular = isSingular(fit), f = txt(found$Fstat), df = txt(found$ddf), p = txt(found$p.value))
}
rows <- lapply(seq_len(nrow(beets)), function(i) list(
  block = as.character(beets$block[i]), harvest = as.character(beets$harvest[i]),
  sow = as.character(beets$sow[i]), yield = beets$yield[i], sugar = beets$sugpct[i]))
out <- list(header = list(script = "tests/reference/make/beets.R", versions = as.list(versions)),
  rows = rows, strata = list(yield = lines_of("yield"), sugar = lines_of("sugpct")),
  mixed_harvest = list(yield = pooled("yield"), sugar = pooled("sugpct")))
write(toJSON(out, auto_unbox = TRUE, pretty = TRUE, digits = NA, null = "null"), "tests/reference/expected/beets.json")
