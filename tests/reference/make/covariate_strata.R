# Analyses of covariance in each stratum of a split-plot and a strip-plot, written to
# tests/reference/expected/covariate-strata.json. Run from the repository's root:
# Rscript tests/reference/make/covariate_strata.R
# The covariate is the column of a plot less the mean column of its block. Balanced: lm on the
# means of the pieces of each stratum. With gaps: whole plots by lme4 and pbkrtest
# (Kenward-Roger) with one slope between and one inside whole plots, subplots by lm with whole
# plots fixed.
source("tests/reference/make/tools.R")
suppressMessages({library(lme4); library(pbkrtest); library(nlme); library(MASS)})
versions <- versions_of("lme4", "pbkrtest", "nlme", "MASS", "jsonlite")
options(contrasts = c("contr.sum", "contr.poly"))
# oats: where whole plots and subplots stood is not in the table; columns drawn here, invented
o <- MASS::oats
set.seed(19350)
o$W <- interaction(o$B, o$V, drop = TRUE)
place <- ave(runif(nrow(o))[match(o$W, o$W)], o$B, FUN = function(u) match(u, sort(unique(u))))
o$column <- 4 * (place - 1) + ave(runif(nrow(o)), o$W, FUN = rank)
o$x <- o$column - 6.5
w <- aggregate(cbind(Y, x) ~ B + V + W, o, mean)
whole <- lm(Y ~ B + V + x, w)
sub <- lm(Y ~ W + N + N:V + x, o)
drop <- function(fit, term) {
  m <- model.matrix(fit); keep <- !is.na(coef(fit))
  at <- attr(m, "assign") == match(term, attr(terms(fit), "term.labels"))
  y <- model.response(model.frame(fit))
  rss <- function(z) sum(lm.fit(z, y)$residuals^2)
  full <- rss(m[, keep]); df <- length(y) - qr(m[, keep])$rank
  q <- qr(m[, keep])$rank - qr(m[, keep & !at])$rank
  list(term = term, f = txt((rss(m[, keep & !at]) - full) / q / (full / df)), df_num = q, df_den = df)
}
s <- summary(whole)$coefficients
mv <- c(V1 = 1, V2 = -1) # Golden.rain - Marvellous with sum contrasts
L <- rep(0, length(coef(whole))); names(L) <- names(coef(whole)); L[c("V1", "V2")] <- c(1, -1)
est <- sum(L * coef(whole)); se <- sqrt(c(L %*% vcov(whole) %*% L))
oats <- list(tests = list(drop(whole, "V"), drop(sub, "N"), drop(sub, "N:V")),
  golden_less_marvellous = list(estimate = txt(est), se = txt(se), df = whole$df.residual),
  slope_whole = txt(coef(whole)["x"]), slope_sub = txt(coef(sub)["x"]))

out <- which((o$B == "I" & o$V == "Victory" & o$N == "0.0cwt") | (o$B == "III" & o$V == "Marvellous" & o$N == "0.4cwt"))
h <- o[-out, ]
h$xw <- ave(h$x, h$W)
fit <- lmer(Y ~ B + V * N + xw + x + (1 | W), h,
  control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 1e-2, rhoend = 1e-12, maxfun = 1e5)))
k <- which(attr(model.matrix(fit), "assign") == match("V", attr(terms(fit), "term.labels")))
found <- KRmodcomp(fit, diag(length(fixef(fit)))[k, , drop = FALSE])$stats
inside <- lm(Y ~ W + N + N:V + x, h)
gaps <- list(V = list(f = txt(found$Fstat), df = txt(found$ddf)), inside = list(drop(inside, "N"), drop(inside, "N:V")))

# assay: strips; columns of a block are its dilutions in the order of their numbers
a <- as.data.frame(Assay)
a$Block <- factor(as.character(a$Block)); a$sample <- factor(as.character(a$sample))
# an invented order of the column strips in the second block, so that position varies
order2 <- c(3, 1, 5, 2, 4)
a$dil <- as.integer(as.character(a$dilut))
a$column <- ifelse(a$Block == "2", order2[a$dil], a$dil)
a$x <- a$column - 3
a$dilut <- factor(as.character(a$dilut))
cs <- aggregate(cbind(logDens, x) ~ Block + dilut, a, mean)
columns <- lm(logDens ~ Block + dilut + x, cs)
strips <- list(drop(columns, "dilut"))
body <- list(header = list(
    data = "MASS oats (Yates 1935); nlme Assay (Pinheiro & Bates 2000, 4.2.2, as cited by nlme)",
    program = paste(names(versions), versions, collapse = ", "),
    script = "tests/reference/make/covariate_strata.R", digits = 17,
    oats_columns = o$column, oats_without_rows = out, second_block = order2),
  oats = oats, gaps = gaps, strips = strips)
write(toJSON(body, auto_unbox = TRUE, pretty = TRUE, null = "null"), "tests/reference/expected/covariate-strata.json")
