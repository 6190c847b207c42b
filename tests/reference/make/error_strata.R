# Reference values for several error strata, written to
# tests/reference/expected/error-strata.json. Run from the repository's root:
# Rscript tests/reference/make/error_strata.R
# Balanced: aov with Error. With gaps: terms of the larger pieces by lme4 and pbkrtest
# (Kenward-Roger, contrasts of equally weighted means), terms of the smallest pieces by lm
# with all larger pieces fixed.
source("tests/reference/make/tools.R")
suppressMessages({library(lme4); library(pbkrtest); library(nlme); library(MASS)})
versions <- versions_of("lme4", "pbkrtest", "nlme", "MASS", "jsonlite")
options(contrasts = c("contr.sum", "contr.poly"))

# with sum-to-zero contrasts a term's columns are zero exactly when its equally weighted
# contrasts are
kr <- function(fit, term) {
  k <- which(attr(model.matrix(fit), "assign") == match(term, attr(terms(fit), "term.labels")))
  rows <- diag(length(fixef(fit)))[k, , drop = FALSE]
  found <- KRmodcomp(fit, rows)$stats
  list(term = term, f = txt(found$Fstat), df = txt(found$ddf), p = txt(found$p.value))
}
inner <- function(formula, data, term) {
  table <- anova(lm(formula, data))
  list(term = term, f = txt(table[term, "F value"]), df = table["Residuals", "Df"])
}

a <- as.data.frame(Assay)
a$Block <- factor(as.character(a$Block)); a$sample <- factor(as.character(a$sample)); a$dilut <- factor(as.character(a$dilut))
strip <- lines_of(aov(logDens ~ sample * dilut + Error(Block / (sample + dilut)), a))
gone <- c(7, 22, 41)
g <- a[-gone, ]
fit <- lmer(logDens ~ Block + sample * dilut + (1 | Block:sample) + (1 | Block:dilut), g,
  control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 1e-2, rhoend = 1e-12, maxfun = 1e5)))
strip_gaps <- list(kr(fit, "sample"), kr(fit, "dilut"),
  inner(logDens ~ Block:sample + Block:dilut + sample:dilut, g, "sample:dilut"))

o <- MASS::oats
out <- which((o$B == "I" & o$V == "Victory" & o$N == "0.0cwt") | (o$B == "III" & o$V == "Marvellous" & o$N == "0.4cwt"))
h <- o[-out, ]
fit <- lmer(Y ~ B + V * N + (1 | B:V), h,
  control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 1e-2, rhoend = 1e-12, maxfun = 1e5)))
full <- lm(Y ~ B:V + V * N, h)
term <- function(label) {
  # sum-to-zero columns of the term against all others, whole plots fixed
  m <- model.matrix(full); use <- qr(m)$pivot[seq_len(qr(m)$rank)]
  pos <- attr(m, "assign") == match(label, attr(terms(full), "term.labels"))
  keep <- !(colnames(m) %in% names(which(is.na(coef(full)))))
  rss <- function(x) sum(lm.fit(x, h$Y)$residuals^2)
  one <- rss(m[, keep]); none <- rss(m[, keep & !pos]); df <- nrow(m) - qr(m[, keep])$rank
  q <- qr(m[, keep])$rank - qr(m[, keep & !pos])$rank
  list(term = label, f = txt((none - one) / q / (one / df)), df = df)
}
split_gaps <- list(kr(fit, "V"), term("N"), term("V:N"))

body <- list(header = list(
    data = "nlme Assay (Pinheiro & Bates 2000, 4.2.2, as cited by nlme); MASS oats (Yates 1935)",
    program = paste(names(versions), versions, collapse = ", "),
    script = "tests/reference/make/error_strata.R", digits = 17,
    assay_without_rows = gone, oats_without_rows = out),
  strip = strip, strip_gaps = strip_gaps, split_gaps = split_gaps)
write(toJSON(body, auto_unbox = TRUE, pretty = TRUE, null = "null"), "tests/reference/expected/error-strata.json")
