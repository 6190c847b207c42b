# Reference values for the mixed-model engine, written to tests/reference/expected/.
# Run from the repository's root: Rscript tests/reference/make/mixed.R
# Models by lme4 (optimizer driven to convergence), Kenward-Roger by pbkrtest,
# Satterthwaite by lmerTest; components below zero by direct minimization of the
# restricted likelihood written out here. Textbook data typed in from memory.
source("tests/reference/make/mixed_tools.R")
script <- "tests/reference/make/mixed.R"

# --- data sets of general-purpose packages ----------------------------------------------
data(Dyestuff); data(Dyestuff2); data(Pastes); data(Penicillin)
one <- list(1)
run("dyestuff", "lme4 Dyestuff", "Davies & Goldsmith (1972), as cited by lme4", "1 + (1 | batch)",
    Yield ~ 1 + (1 | Batch), Dyestuff, c(Batch = "batch"), rows = one)
run("dyestuff2", "lme4 Dyestuff2", "Box & Tiao (1973), as cited by lme4", "1 + (1 | batch)",
    Yield ~ 1 + (1 | Batch), Dyestuff2, c(Batch = "batch"), rows = one)
run("pastes", "lme4 Pastes", "Davies & Goldsmith (1972), as cited by lme4",
    "1 + (1 | batch) + (1 | batch:cask)", strength ~ 1 + (1 | batch) + (1 | sample), Pastes,
    c(batch = "batch", sample = "cask"), rows = one)
run("penicillin", "lme4 Penicillin", "Davies & Goldsmith (1972), as cited by lme4",
    "1 + (1 | plate) + (1 | sample)", diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin,
    c(plate = "plate", sample = "sample"), rows = one)
run("penicillin-gaps", "lme4 Penicillin without rows 1, 8, 15, ... (every seventh)",
    "Davies & Goldsmith (1972), as cited by lme4",
    "1 + (1 | plate) + (1 | sample)", diameter ~ 1 + (1 | plate) + (1 | sample),
    Penicillin[-seq(1, 144, 7), ], c(plate = "plate", sample = "sample"), rows = one)

oats <- MASS::oats
oats$V <- factor(as.character(oats$V), levels = c("Golden.rain", "Marvellous", "Victory"))
oats$W <- interaction(oats$B, oats$V)
run("oats", "MASS oats", "Yates (1935), as cited by MASS", "V * N + (1 | B) + (1 | B:V)",
    Y ~ V * N + (1 | B) + (1 | W), oats, c(B = "block", W = "whole plot"),
    tests = list(VN = unit(12, 7:12)), rows = list(unit(12, 2)[1, ], unit(12, 7)[1, ]))
gaps <- oats[!(oats$B == "I" & oats$V == "Victory" & oats$N == "0.0cwt") &
             !(oats$B == "III" & oats$V == "Marvellous" & oats$N == "0.4cwt"), ]
run("oats-gaps", "MASS oats without I Victory 0.0cwt and III Marvellous 0.4cwt",
    "Yates (1935), as cited by MASS", "V + N + (1 | B) + (1 | B:V)",
    Y ~ V + N + (1 | B) + (1 | W), gaps, c(B = "block", W = "whole plot"),
    tests = list(V = unit(6, 2:3), N = unit(6, 4:6)),
    rows = list(c(1, 0, 0, .25, .25, .25), c(1, 1, 0, .25, .25, .25), c(1, 0, 1, .25, .25, .25),
                c(0, 1, -1, 0, 0, 0), c(0, 0, 0, 0, -1, 1)))

# --- textbook data, from memory ---------------------------------------------------------
rice <- data.frame(rate = factor(rep(1:6, each = 4)), block = factor(rep(1:4, 6)),
  y = c(5113, 5398, 5307, 4678, 5346, 5952, 4719, 4264, 5272, 5713, 5483, 4749,
        5164, 4831, 4986, 4410, 4804, 4848, 4432, 4748, 5254, 4542, 4919, 4098))
run("rice-blocks", "in the test", "Gomez & Gomez (1984), tables 2.5 and 2.6, from memory",
    "rate + (1 | block)", y ~ rate + (1 | block), rice, c(block = "block"),
    tests = list(rate = unit(6, 2:6)), rows = list(unit(6, 2)[1, ], c(1, 0, 0, 0, 0, 0)))
soy <- data.frame(seed = factor(rep(1:5, each = 5)), block = factor(rep(1:5, 5)),
  y = c(8, 10, 12, 13, 11, 2, 6, 7, 11, 5, 4, 10, 9, 8, 10, 3, 5, 9, 10, 6, 9, 7, 5, 5, 3))
run("soybean-blocks", "in the test", "Snedecor & Cochran, Statistical Methods, from memory",
    "seed + (1 | block)", y ~ seed + (1 | block), soy, c(block = "block"),
    tests = list(seed = unit(5, 2:5)), rows = list(unit(5, 3)[1, ]))
run("soybean-gap", "in the test, without Spergon in block 2",
    "Snedecor & Cochran, Statistical Methods, from memory",
    "seed + (1 | block)", y ~ seed + (1 | block), soy[-12, ], c(block = "block"),
    tests = list(seed = unit(5, 2:5)), rows = list(unit(5, 3)[1, ], c(0, 1, -1, 0, 0)))
fields <- data.frame(field = factor(rep(1:8, each = 2)), method = factor(rep(rep(1:4, 2), each = 2)),
  variety = factor(rep(1:2, 8)),
  y = c(35.4, 37.9, 36.7, 38.2, 34.8, 36.4, 39.5, 40.0, 41.6, 40.3, 42.7, 41.6, 43.6, 42.8, 44.5, 47.6))
run("irrigation-fields", "in the test", "irrigation split-plot of 8 fields, from memory",
    "method + variety + (1 | field)", y ~ method + variety + (1 | field), fields, c(field = "field"),
    tests = list(method = unit(5, 2:4)), rows = list(unit(5, 2)[1, ], unit(5, 5)[1, ]))
run("irrigation-fields-interaction", "in the test", "irrigation split-plot of 8 fields, from memory",
    "method * variety + (1 | field)", y ~ method * variety + (1 | field), fields, c(field = "field"),
    tests = list(interaction = unit(8, 6:8)),
    rows = list(c(0, 1, 0, 0, 0, .5, 0, 0), c(0, 0, 0, 0, 1, .25, .25, .25)))
run("irrigation-fields-gap", "in the test, without variety 2 in field 3 and variety 1 in field 8",
    "irrigation split-plot of 8 fields, from memory",
    "method + variety + (1 | field)", y ~ method + variety + (1 | field), fields[-c(6, 15), ],
    c(field = "field"), tests = list(method = unit(5, 2:4)),
    rows = list(unit(5, 2)[1, ], unit(5, 5)[1, ]))

# --- invented data ----------------------------------------------------------------------
plants <- read.csv("tests/reference/data/invented-plants/data.csv", stringsAsFactors = TRUE)
plants$block <- factor(plants$block)
run("invented-plants", "data/invented-plants", "invented", "treatment + (1 | block) + (1 | plot)",
    value ~ treatment + (1 | block) + (1 | plot), plants, c(block = "block", plot = "plot"),
    tests = list(treatment = unit(4, 2:4)), rows = list(unit(4, 2)[1, ], c(0, 1, -1, 0), c(1, 0, 0, 0)))
run("invented-plants-start", "data/invented-plants", "invented",
    "treatment + start + (1 | block) + (1 | plot)",
    value ~ treatment + start + (1 | block) + (1 | plot), plants, c(block = "block", plot = "plot"),
    tests = list(treatment = unit(5, 2:4)), rows = list(unit(5, 2)[1, ], unit(5, 5)[1, ]))
small <- read.csv("tests/reference/data/invented-small/data.csv", stringsAsFactors = TRUE)
small$block <- factor(small$block)
for (trial in c("3x2", "2x2", "2x3")) {
  d <- droplevels(small[small$trial == trial, ])
  p <- nlevels(d$treatment)
  tests <- if (p > 2) list(treatment = unit(p, 2:p)) else list()
  run(paste0("invented-", trial), paste("data/invented-small, trial", trial), "invented",
      "treatment + (1 | block) + (1 | plot)", value ~ treatment + (1 | block) + (1 | plot), d,
      c(block = "block", plot = "plot"), tests = tests, rows = list(unit(p, 2)[1, ]))
  means <- aggregate(value ~ treatment + block + plot, d, mean)
  run(paste0("invented-", trial, "-means"), paste("data/invented-small, plot means of trial", trial),
      "invented", "treatment + (1 | block)", value ~ treatment + (1 | block), means,
      c(block = "block"), tests = tests, rows = list(unit(p, 2)[1, ]))
}

# --- components below zero, and profile intervals: the likelihood written out ------------
criterion <- function(theta, y, X, G) {
  V <- Reduce(`+`, Map(`*`, theta, G))
  U <- try(chol(V), silent = TRUE)
  if (inherits(U, "try-error")) return(1e10)
  Xs <- backsolve(U, X, transpose = TRUE); ys <- backsolve(U, y, transpose = TRUE)
  A <- crossprod(Xs); r <- ys - Xs %*% solve(A, crossprod(Xs, ys))
  2 * sum(log(diag(U))) + c(determinant(A)$modulus) + sum(r^2) + (length(y) - ncol(X)) * log(2 * pi)
}
same <- function(g) outer(g, g, "==") * 1
G <- list(same(as.integer(Dyestuff2$Batch)), diag(30))
X1 <- matrix(1, 30, 1)
o <- optim(c(-1, 15), criterion, y = Dyestuff2$Yield, X = X1, G = G, control = list(reltol = 1e-16, maxit = 10000))
o <- optim(o$par, criterion, y = Dyestuff2$Yield, X = X1, G = G, control = list(reltol = 1e-16, maxit = 10000))
write("dyestuff2-strata", "lme4 Dyestuff2", "Box & Tiao (1973), as cited by lme4", "1 + (1 | batch), components free",
  list(case("objective", o$value, "program, optimized", "1e-8"),
       case("component batch", o$par[1], "program, optimized", "1e-5"),
       case("component residual", o$par[2], "program, optimized", "1e-5")))

profile_ends <- function(name, y, X, G, best, names) {
  low <- optim(log(pmax(best, 1e-8)), function(l) criterion(exp(l), y, X, G), control = list(reltol = 1e-16, maxit = 20000))
  top <- min(low$value, criterion(best, y, X, G))
  crit <- qchisq(0.95, 1)
  at <- function(k, v) {
    rest <- setdiff(seq_along(best), k)
    f <- function(l) { th <- best; th[k] <- v; th[rest] <- exp(l); criterion(th, y, X, G) }
    if (length(rest) == 1) {
      zero <- best; zero[k] <- v; zero[rest] <- 0
      at_zero <- if (k == length(best)) criterion(zero, y, X, G) else Inf
      min(at_zero, optimize(f, log(best[length(best)]) + c(-6, 6), tol = 1e-12)$objective)
    }
    else { s <- optim(log(pmax(best[rest], 1e-3)), f, control = list(reltol = 1e-16, maxit = 20000))
           optim(s$par, f, control = list(reltol = 1e-16, maxit = 20000))$value }
  }
  cases <- list()
  for (k in seq_along(best)) {
    g <- function(v) at(k, v) - top - crit
    if (k < length(best) && g(0) <= 0) lower <- 0
    else lower <- uniroot(g, c(best[k] * 1e-4, best[k]), tol = 1e-12 * best[k])$root
    upper <- uniroot(g, c(max(best[k], 1e-3 * sum(best)), 60 * max(best[k], 0.05 * sum(best))), tol = 1e-12 * sum(best))$root
    cases <- c(cases, list(case(paste("low", names[k]), lower, "program, optimized", "1e-5"),
                           case(paste("high", names[k]), upper, "program, optimized", "1e-5")))
  }
  write(name, name, "computed: restricted likelihood written out", "profile intervals 95 %", cases)
}
profile_ends("dyestuff-profile", Dyestuff$Yield, X1, G, c(1764.05, 2451.25), c("batch", "residual"))
profile_ends("dyestuff2-profile", Dyestuff2$Yield, X1, G, c(0, 13.806309627582268), c("batch", "residual"))
m <- fit(Y ~ V + N + (1 | B) + (1 | W), gaps)
vc <- as.data.frame(VarCorr(m)); best <- c(vc$vcov[vc$grp == "B"], vc$vcov[vc$grp == "W"], sigma(m)^2)
profile_ends("oats-gaps-profile", gaps$Y, model.matrix(~ V + N, gaps),
  list(same(as.integer(gaps$B)), same(as.integer(gaps$W)), diag(nrow(gaps))), best, c("block", "whole plot", "residual"))
