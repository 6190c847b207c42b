# Reference values for the sugar beets of the R package pbkrtest (its help page gives no other
# source), written to tests/reference/expected/beets.json with the data. Run from the
# repository's root: Rscript tests/reference/make/beets.R
# Harvest times stand on whole plots in blocks, sowing times on subplots inside: aov with
# Error. For yields the whole-plot mean square lies below that of subplots, so that lme4 puts
# the whole-plot variance at zero; its F (Kenward-Roger, pbkrtest) is kept beside, pooled.
source("tests/reference/make/tools.R")
suppressMessages({library(lme4); library(pbkrtest)})
versions <- versions_of("lme4", "pbkrtest", "jsonlite")
data(beets)
beets$whole <- interaction(beets$block, beets$harvest, drop = TRUE)
strata_of <- function(response) lines_of(p = TRUE, suppressWarnings(
  aov(as.formula(paste(response, "~ block + harvest * sow + Error(whole)")), beets)))
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
  rows = rows, strata = list(yield = strata_of("yield"), sugar = strata_of("sugpct")),
  mixed_harvest = list(yield = pooled("yield"), sugar = pooled("sugpct")))
write(toJSON(out, auto_unbox = TRUE, pretty = TRUE, digits = NA, null = "null"), "tests/reference/expected/beets.json")
