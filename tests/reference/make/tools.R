# What several scripts for reference values share: versions, cases, expected files, lines of an
# analysis of variance. Sourced, not run.
invisible(Sys.setlocale("LC_COLLATE", "C"))
suppressMessages(library(jsonlite))
txt <- function(x) sprintf("%.17g", x)
versions_of <- function(...) c(R = as.character(getRversion()),
  sapply(c(...), function(p) as.character(packageVersion(p))))

cases <- list()
case <- function(quantity, value, rel) {
  cases[[length(cases) + 1]] <<- list(quantity = quantity, value = txt(value),
    kind = "program, computed", relative = rel)
}
write_cases <- function(set, data, source, versions, script) {
  header <- list(set = set, data = data, source = source,
    program = paste(names(versions), versions, collapse = ", "),
    script = file.path("tests/reference/make", script), digits = 17)
  write(toJSON(list(header = header, cases = cases), auto_unbox = TRUE, pretty = 2),
        file.path("tests/reference/expected", paste0(set, ".json")))
}

# of aov with Error: stratum by stratum; p only where asked for
lines_of <- function(fit, p = FALSE) {
  out <- list()
  for (stratum in names(fit)) {
    table <- summary(fit[[stratum]])[[1]]
    value <- function(i, column)
      if (column %in% names(table) && !is.na(table[i, column])) txt(table[i, column])
    for (i in seq_len(nrow(table))) out[[length(out) + 1]] <- c(list(
      stratum = sub("^Error: ", "", stratum), source = trimws(rownames(table)[i]),
      df = table[i, "Df"], squares = txt(table[i, "Sum Sq"]), f = value(i, "F value")),
      if (p) list(p = value(i, "Pr(>F)")))
  }
  out
}
