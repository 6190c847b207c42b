# Reference values of growth over the visits: serial correlation, variances by arm and by visit,
# by nlme (Pinheiro & Bates 2000), from two data sets that nlme carries; written to
# tests/reference/expected/growth-visits.json. Run: Rscript growth_visits.R FOLDER_OF_EXPECTED
suppressMessages({library(nlme); library(jsonlite)})
out <- commandArgs(TRUE)[1]
ctl <- lmeControl(msMaxIter = 2000, maxIter = 2000, tolerance = 1e-14, msTol = 1e-16,
                  niterEM = 100, opt = "nlminb", returnObject = TRUE, apVar = FALSE)

# arm rates x day + arm levels + dates, the columns that depend on earlier ones left out
columns <- function(arm, day) {
  X <- model.matrix(~ 0 + arm + arm:d + factor(day), data.frame(arm = arm, d = day - mean(day), day = day))
  q <- qr(X)
  X[, sort(q$pivot[seq_len(q$rank)]), drop = FALSE]
}

fit <- function(d, random, path, correlation, variance) {
  d$X <- columns(d$arm, d$day)
  d$d <- d$day - mean(d$day)
  weights <- switch(variance, pooled = NULL, "by arm" = varIdent(form = ~ 1 | arm),
                    "by visit" = varIdent(form = ~ 1 | visit))
  d$visit <- factor(d$day)
  serial <- switch(correlation, lines = NULL, serial = corCAR1(value = 0.9, form = path))
  m <- lme(y ~ 0 + X, random = random, correlation = serial, weights = weights, data = d, control = ctl)
  arms <- levels(d$arm)
  beta <- setNames(rep(0, length(arms)), arms)  # the column left out is the arm at zero
  at <- grep(":d$", colnames(d$X))
  beta[sub("^arm", "", sub(":d$", "", colnames(d$X)[at]))] <- fixef(m)[at]
  ratio <- if (is.null(weights)) 1 else coef(m$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE)
  list(rates = as.list((beta - beta[1])[-1]),
       residual = as.list(m$sigma^2 * ratio^2),
       correlation_a_day = if (is.null(serial)) NULL else unname(coef(m$modelStruct$corStruct, unconstrained = FALSE)),
       random = lapply(m$modelStruct$reStruct, function(p) as.matrix(p) * m$sigma^2),
       minus_two_log_restricted_likelihood = -2 * as.numeric(logLik(m)))
}

rats <- as.data.frame(BodyWeight)
rats <- data.frame(y = rats$weight, day = rats$Time, unit = factor(as.character(rats$Rat)), arm = factor(rats$Diet))
sets <- list()
for (case in list(c("serial", "pooled"), c("serial", "by arm"), c("serial", "by visit"), c("lines", "by arm"), c("lines", "by visit")))
  sets[[paste("rats", case[1], case[2])]] <- fit(rats, ~ d | unit, ~ day | unit, case[1], case[2])

trees <- as.data.frame(Spruce)
trees <- data.frame(y = trees$logSize, day = trees$days, unit = factor(as.character(trees$plot)), plant = factor(as.character(trees$Tree)))
trees$arm <- factor(ifelse(trees$unit %in% c("1", "3"), "a", "b"))
for (v in c("pooled", "by visit"))
  sets[[paste("trees serial", v)]] <- fit(trees, ~ d | unit, ~ day | unit/plant, "serial", v)
print(sets)
write_json(list(versions = list(R = as.character(getRversion()), nlme = as.character(packageVersion("nlme"))),
  sources = list(rats = "nlme BodyWeight (Crowder & Hand 1990, as cited by nlme)",
                 trees = "nlme Spruce (Diggle, Liang & Zeger 1994, as cited by nlme); plots 1 and 3 named a, 2 and 4 named b, an invented split"),
  sets = sets), file.path(out, "growth-visits.json"), digits = I(16), auto_unbox = TRUE, null = "null", pretty = TRUE)
