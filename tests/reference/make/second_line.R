# Reference values of the second line where trial files lead to it: gaps in a split-plot with
# the interaction, and balanced sets without treatments whose batches or samples are compared.
# Run from the repository's root: Rscript tests/reference/make/second_line.R
source("tests/reference/make/mixed_tools.R")
script <- "tests/reference/make/second_line.R"
# every term's equally weighted contrasts: with sum-to-zero coding its columns are zero exactly
# when these are; turned into the treatment coding in which the model is fitted
coded <- function(rows, formula, data) {
  names <- all.vars(formula)
  sums <- model.matrix(formula, data, contrasts.arg = sapply(names, function(n) "contr.sum", simplify = FALSE))
  unname(rows %*% solve(qr.solve(model.matrix(formula, data), sums)))
}
terms_of <- function(formula, data) {
  X <- model.matrix(formula, data)
  labels <- attr(terms(formula), "term.labels")
  sets <- lapply(seq_along(labels), function(k)
    zapsmall(coded(unit(ncol(X), which(attr(X, "assign") == k)), formula, data), 12))
  names(sets) <- labels
  sets
}
oats <- MASS::oats
oats$V <- factor(as.character(oats$V))
oats$W <- interaction(oats$B, oats$V)
gaps <- oats[!(oats$B == "I" & oats$V == "Victory" & oats$N == "0.0cwt") &
             !(oats$B == "III" & oats$V == "Marvellous" & oats$N == "0.4cwt"), ]
# means of the varieties over equally weighted rates, and two differences
rows <- rbind(c(1, 1, 0, rep(0, 9)), c(1, 0, 1, rep(0, 9)), c(1, -1, -1, rep(0, 9)),
              c(0, -1, 1, rep(0, 9)), c(0, 0, 0, -1, 1, 0, rep(0, 6)))
run("oats-factorial-gaps", "MASS oats without I Victory 0.0cwt and III Marvellous 0.4cwt",
    "Yates (1935), as cited by MASS", "V * N + (1 | B) + (1 | B:V)",
    Y ~ V * N + (1 | B) + (1 | W), gaps, c(B = "block", W = "whole plot"),
    tests = terms_of(~ V * N, gaps), rows = rows_of(zapsmall(coded(rows, ~ V * N, gaps), 12)))

data(Penicillin); data(Pastes); data(Dyestuff); data(Dyestuff2)
run("penicillin-samples", "lme4 Penicillin", "Davies & Goldsmith (1972), as cited by lme4",
    "sample + (1 | plate)", diameter ~ sample + (1 | plate), Penicillin, c(plate = "block"),
    tests = terms_of(~ sample, Penicillin), rows = list(c(1, 0, 0, 0, 0, 0), c(0, 1, 0, 0, 0, 0)))
keep <- Penicillin[-seq(1, 144, 7), ]
run("penicillin-samples-gaps", "lme4 Penicillin without rows 1, 8, 15, ... (every seventh)",
    "Davies & Goldsmith (1972), as cited by lme4", "sample + (1 | plate)",
    diameter ~ sample + (1 | plate), keep, c(plate = "block"),
    tests = terms_of(~ sample, keep), rows = list(c(1, 0, 0, 0, 0, 0), c(0, 1, 0, 0, 0, 0)))
run("pastes-batches", "lme4 Pastes", "Davies & Goldsmith (1972), as cited by lme4",
    "batch + (1 | batch:cask)", strength ~ batch + (1 | sample), Pastes, c(sample = "plot"),
    tests = terms_of(~ batch, Pastes), rows = list(c(1, rep(0, 9)), c(0, 1, rep(0, 8))))
