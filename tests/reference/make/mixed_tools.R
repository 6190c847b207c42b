# What the scripts for mixed-model references share: tight lme4 fits, Kenward-Roger by
# pbkrtest, Satterthwaite by lmerTest, expected files. Sourced, not run.
invisible(Sys.setlocale("LC_COLLATE", "C"))
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(jsonlite)})
out <- "tests/reference/expected"
txt <- function(x) sprintf("%.17g", x)
versions <- c(R = as.character(getRversion()),
  sapply(c("lme4", "lmerTest", "pbkrtest", "MASS", "jsonlite"),
         function(p) as.character(packageVersion(p))))

tight <- lmerControl(optimizer = "nloptwrap", calc.derivs = FALSE,
  check.conv.singular = "ignore", check.nobs.vs.nlev = "ignore", check.nobs.vs.nRE = "ignore",
  optCtrl = list(xtol_abs = 1e-15, xtol_rel = 1e-15, ftol_abs = 1e-15, ftol_rel = 1e-15,
                 maxeval = 100000))

# the best of several starts: the optimizer stops at rounding, not always at the same place
fit <- function(formula, data) {
  m <- lmerTest::lmer(formula, data, REML = TRUE, control = tight)
  start <- getME(m, "theta")
  best <- m
  for (jitter in c(0.5, 0.9, 1.1, 2)) {
    again <- lmerTest::lmer(formula, data, REML = TRUE, control = tight, start = pmax(start * jitter, 1e-3))
    if (REMLcrit(again) < REMLcrit(best)) best <- again
  }
  best
}

case <- function(quantity, value, kind, rel, note = NULL) {
  x <- list(quantity = quantity, value = txt(value), kind = kind, relative = rel)
  if (!is.null(note)) x$note <- note
  x
}

describe <- function(m, tests, rows, names) {
  vc <- as.data.frame(VarCorr(m))
  key <- ifelse(vc$grp == "Residual", "residual", names[vc$grp])
  cases <- list(case("objective", REMLcrit(m), "program, optimized", "1e-8"))
  for (i in seq_along(key)) {
    zero <- vc$vcov[i] < 1e-8 * sum(vc$vcov)
    cases <- c(cases, list(case(paste0("component ", key[i]), if (zero) 0 else vc$vcov[i], "program, optimized", "1e-5")))
  }
  b <- fixef(m)
  Phi <- vcov(m); PhiA <- vcovAdj(m)
  for (i in seq_along(b)) {
    cases <- c(cases, list(
      # of an effect far below its standard error the optimizer fixes one digit less
      case(paste("fixed", i - 1), b[i], "program, optimized",
           if (abs(b[i]) < 0.1 * sqrt(Phi[i, i])) "1e-6" else "1e-7"),
      case(paste("se model", i - 1), sqrt(Phi[i, i]), "program, optimized", "1e-6"),
      case(paste("se kr", i - 1), sqrt(PhiA[i, i]), "program, optimized", "1e-6")))
  }
  singular <- any(vc$vcov[is.na(vc$var2)] < 1e-8 * sum(vc$vcov)) || isSingular(m, tol = 1e-6)
  for (i in seq_along(rows)) {
    L <- rows[[i]]
    cases <- c(cases, list(
      case(paste("row", i - 1, "estimate"), sum(L * b), "program, optimized", "1e-7"),
      case(paste("row", i - 1, "se kr"), sqrt(c(L %*% as.matrix(PhiA) %*% L)), "program, optimized", "1e-6"),
      case(paste("row", i - 1, "df kr"), Lb_ddf(L, as.matrix(Phi), PhiA), "program, optimized", "1e-4")))
    if (!singular) {
      s <- contest(m, L, joint = FALSE, ddf = "Satterthwaite")
      cases <- c(cases, list(case(paste("row", i - 1, "df satterthwaite"), s$df, "program, numerical derivatives", "1e-4")))
    }
  }
  for (name in names(tests)) {
    L <- tests[[name]]
    k <- KRmodcomp(m, L)$stats
    cases <- c(cases, list(
      case(paste("test", name, "f kr"), k$Fstat, "program, optimized", "1e-5"),
      case(paste("test", name, "df kr"), k$ddf, "program, optimized", "1e-4"),
      case(paste("test", name, "scaling kr"), k$F.scaling, "program, optimized", "1e-4"),
      case(paste("test", name, "p kr"), k$p.value, "program, optimized", "1e-4")))
    if (!singular) {
      s <- contest(m, L, joint = TRUE, ddf = "Satterthwaite")
      cases <- c(cases, list(
        case(paste("test", name, "f satterthwaite"), s[["F value"]], "program, optimized", "1e-5"),
        case(paste("test", name, "df satterthwaite"), s$DenDF, "program, numerical derivatives", "1e-4")))
    }
  }
  cases
}

write <- function(name, data, source, model, cases, rows = list(), tests = list()) {
  header <- list(set = name, data = data, source = source, model = model,
    program = paste(names(versions), versions, collapse = ", "),
    script = script, digits = 17,
    rows = unname(rows), tests = tests)
  json <- toJSON(list(header = header, cases = cases), auto_unbox = TRUE, pretty = TRUE, digits = NA)
  writeLines(json, file.path(out, paste0(name, "--mixed.json")))
}

unit <- function(p, ...) { L <- matrix(0, length(c(...)), p); L[cbind(seq_along(c(...)), c(...))] <- 1; L }
rows_of <- function(L) lapply(seq_len(nrow(L)), function(i) L[i, ])
run <- function(name, data, source, model, formula, frame, names, tests = list(), rows = list()) {
  m <- fit(formula, frame)
  write(name, data, source, model, describe(m, tests, rows, names), rows,
        lapply(tests, rows_of))
  cat(name, REMLcrit(m), as.data.frame(VarCorr(m))$vcov, "\n")
}

