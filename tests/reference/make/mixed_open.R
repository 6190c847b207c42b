# More open data sets for the mixed-model engine: nested, crossed, singular, slopes, and
# serial correlation with unequal variances; written to tests/reference/expected/.
# Run from the repository's root: Rscript tests/reference/make/mixed_open.R
# Random intercepts and slopes: lme4, pbkrtest, lmerTest (see mixed_tools.R). Serial
# correlation and variance by group: nlme finds the parameters; its criterion is compared
# with the restricted likelihood written out here at the same parameters, which Newton's
# method with numerical derivatives (numDeriv) then takes to full digits.
source("tests/reference/make/mixed_tools.R")
suppressMessages({library(nlme); library(numDeriv)})
script <- "tests/reference/make/mixed_open.R"
versions <- c(versions, sapply(c("nlme", "numDeriv"), function(p) as.character(packageVersion(p))))
plain <- function(d) { d <- as.data.frame(d); d[] <- lapply(d, function(x) if (is.factor(x)) factor(as.character(x)) else as.numeric(x)); d }

# --- random intercepts ------------------------------------------------------------------
rail <- plain(nlme::Rail)
run("rail", "nlme Rail", "Devore (2000), as cited by nlme", "1 + (1 | rail)",
    travel ~ 1 + (1 | Rail), rail, c(Rail = "rail"), rows = list(1))
stool <- plain(nlme::ergoStool)
run("stools", "nlme ergoStool", "Wretenberg, Arborelius & Lindberg (1993), as cited by nlme",
    "type + (1 | subject)", effort ~ Type + (1 | Subject), stool, c(Subject = "subject"),
    tests = list(type = unit(4, 2:4)), rows = list(unit(4, 2)[1, ], c(0, 1, -1, 0)))
machines <- plain(nlme::Machines)
machines$WM <- interaction(machines$Worker, machines$Machine, drop = TRUE)
run("machines", "nlme Machines", "Milliken & Johnson (1992), as cited by nlme",
    "machine + (1 | worker) + (1 | worker:machine)",
    score ~ Machine + (1 | Worker) + (1 | WM), machines, c(Worker = "worker", WM = "worker machine"),
    tests = list(machine = unit(3, 2:3)), rows = list(unit(3, 2)[1, ], c(0, 1, -1)))
few <- machines[-c(2, 3, 5, 14, 20, 21, 33, 40, 47, 48), ]
run("machines-gaps", "nlme Machines without rows 2 3 5 14 20 21 33 40 47 48",
    "Milliken & Johnson (1992), as cited by nlme",
    "machine + (1 | worker) + (1 | worker:machine)",
    score ~ Machine + (1 | Worker) + (1 | WM), few, c(Worker = "worker", WM = "worker machine"),
    tests = list(machine = unit(3, 2:3)), rows = list(unit(3, 2)[1, ], c(0, 1, -1)))
alfalfa <- plain(nlme::Alfalfa)
alfalfa$W <- interaction(alfalfa$Block, alfalfa$Variety, drop = TRUE)
keep <- alfalfa[-c(4, 11, 12, 30, 51), ]
run("alfalfa-gaps", "nlme Alfalfa without rows 4 11 12 30 51",
    "Snedecor & Cochran (1980), as cited by nlme", "variety + date + (1 | block) + (1 | block:variety)",
    Yield ~ Variety + Date + (1 | Block) + (1 | W), keep, c(Block = "block", W = "whole plot"),
    tests = list(variety = unit(6, 2:3), date = unit(6, 4:6)), rows = list(unit(6, 2)[1, ], unit(6, 4)[1, ]))
oxide <- plain(nlme::Oxide)
oxide$L <- factor(oxide$Lot); oxide$LW <- interaction(oxide$Lot, oxide$Wafer, drop = TRUE)
run("oxide", "nlme Oxide", "Littell et al. (1996), as cited by nlme",
    "source + (1 | lot) + (1 | lot:wafer)", Thickness ~ Source + (1 | L) + (1 | LW), oxide,
    c(L = "lot", LW = "wafer"), rows = list(c(0, 1), c(1, 0)))
cake <- plain(lme4::cake)
cake$R <- interaction(cake$recipe, cake$replicate, drop = TRUE)
run("cake", "lme4 cake", "Cook (1938), Cochran & Cox (1957), as cited by lme4",
    "recipe + temp + (1 | recipe:replicate)", angle ~ recipe + temp + (1 | R), cake,
    c(R = "batch"), tests = list(recipe = unit(4, 2:3)), rows = list(unit(4, 4)[1, ], unit(4, 2)[1, ]))
npk <- plain(datasets::npk)
run("npk", "datasets npk", "Venables & Ripley (2002), as cited by R", "N + P + K + (1 | block)",
    yield ~ N + P + K + (1 | block), npk, c(block = "block"), tests = list(N = unit(4, 2)),
    rows = list(unit(4, 2)[1, ], unit(4, 4)[1, ]))
keep <- npk[-c(3, 11, 20), ]
run("npk-gaps", "datasets npk without rows 3 11 20", "Venables & Ripley (2002), as cited by R",
    "N * P + (1 | block)", yield ~ N * P + (1 | block), keep, c(block = "block"),
    rows = list(unit(4, 2)[1, ], unit(4, 4)[1, ]))
petrol <- plain(MASS::petrol)
run("petrol", "MASS petrol", "Prater (1956), as cited by MASS", "EP + SG + (1 | No)",
    Y ~ EP + SG + (1 | No), petrol, c(No = "crude"), rows = list(unit(3, 2)[1, ], unit(3, 3)[1, ]))
# near-singular: the columns' component is under a hundredth of the residual
assay <- plain(nlme::Assay)
assay$R <- interaction(assay$Block, assay$sample); assay$C <- interaction(assay$Block, assay$dilut)
run("assay", "nlme Assay", "Pinheiro & Bates (2000), 4.2.2, as cited by nlme",
    "sample + dilution + (1 | block:sample) + (1 | block:dilution)",
    logDens ~ sample + factor(dilut) + (1 | R) + (1 | C), assay, c(R = "row", C = "column"),
    tests = list(sample = unit(10, 2:6), dilution = unit(10, 7:10)),
    rows = list(unit(10, 2)[1, ], unit(10, 10)[1, ]))

# --- slopes -----------------------------------------------------------------------------
slope_key <- function(vc, names) {
  one <- names[gsub("\\.[0-9]+$", "", vc$grp)]
  kind <- ifelse(!is.na(vc$var2), " covariance", ifelse(vc$var1 == "(Intercept)", " intercept", " slope"))
  plain <- vc$grp == "Residual"
  with <- vc$grp %in% vc$grp[!is.na(vc$var2)]
  ifelse(plain, "residual", ifelse(with, paste0(one, kind), one))
}
describe_slopes <- function(m, tests, rows, names) {
  vc <- as.data.frame(VarCorr(m))
  cases <- describe(m, tests, rows, names)
  cases <- Filter(function(x) !grepl("^component", x$quantity), cases)
  size <- sapply(seq_len(nrow(vc)), function(i) max(abs(vc$vcov[i]), 1e-12))
  key <- slope_key(vc, names)
  c(cases, lapply(seq_along(key), function(i)
    case(paste("component", key[i]), vc$vcov[i], "program, optimized", "1e-5")))
}
run_slopes <- function(name, data, source, model, formula, frame, names, tests = list(), rows = list(),
                       by = fit_slopes) {
  m <- by(formula, frame)
  write(name, data, source, model, describe_slopes(m, tests, rows, names), rows, lapply(tests, rows_of))
  print(REMLcrit(m), digits = 15); print(as.data.frame(VarCorr(m)))
}
# lme4's optimizer stops early on slopes: Newton's method on its own criterion finishes
fit_slopes <- function(formula, data) {
  m <- lmerTest::lmer(formula, data, REML = TRUE, control = tight)
  dev <- lmerTest::lmer(formula, data, REML = TRUE, devFunOnly = TRUE)
  at <- getME(m, "theta")
  for (i in 1:12) {
    g <- grad(dev, at, method.args = list(r = 6)); H <- hessian(dev, at, method.args = list(r = 6))
    if (any(eigen(H)$values <= 0)) break
    step <- solve(H, g); at <- at - step
    if (max(abs(step)) < 1e-11) break
  }
  stay <- function(par, fn, lower, upper, control)
    list(par = par, fval = fn(par), conv = 0, message = "given")
  best <- lmerTest::lmer(formula, data, REML = TRUE, start = at, control =
    lmerControl(optimizer = stay, calc.derivs = FALSE, check.conv.singular = "ignore"))
  stopifnot(REMLcrit(best) <= REMLcrit(m) + 1e-9)
  best
}
sleep <- plain(lme4::sleepstudy)
run_slopes("sleep", "lme4 sleepstudy", "Belenky et al. (2003), as cited by lme4",
  "days + (days | subject)", Reaction ~ Days + (Days | Subject), sleep, c(Subject = "subject"),
  rows = list(c(0, 1), c(1, 9)))
keep <- sleep[-c(2, 9, 15, 31, 32, 33, 60, 77, 78, 101, 120, 121, 122, 150, 166, 180), ]
run_slopes("sleep-gaps", "lme4 sleepstudy without rows 2 9 15 31-33 60 77 78 101 120-122 150 166 180",
  "Belenky et al. (2003), as cited by lme4", "days + (days | subject)",
  Reaction ~ Days + (Days | Subject), keep, c(Subject = "subject"), rows = list(c(0, 1), c(1, 9)))
ortho <- plain(nlme::Orthodont); ortho$t <- ortho$age - 11
run_slopes("orthodont", "nlme Orthodont", "Potthoff & Roy (1964), as cited by nlme",
  "t * sex + (t | subject), t = age - 11", distance ~ t * Sex + (t | Subject), ortho,
  c(Subject = "subject"), tests = list(sex = unit(4, 3:4)), rows = list(unit(4, 3)[1, ], unit(4, 4)[1, ]))
keep <- ortho[-c(1, 6, 7, 22, 39, 40, 58, 71, 90, 91, 92), ]
run_slopes("orthodont-gaps", "nlme Orthodont without rows 1 6 7 22 39 40 58 71 90 91 92",
  "Potthoff & Roy (1964), as cited by nlme", "t * sex + (t | subject), t = age - 11",
  distance ~ t * Sex + (t | Subject), keep, c(Subject = "subject"),
  tests = list(sex = unit(4, 3:4)), rows = list(unit(4, 3)[1, ], unit(4, 4)[1, ]))
boys <- plain(nlme::Oxboys)
run_slopes("oxboys", "nlme Oxboys", "Goldstein (1987), as cited by nlme", "age + (age | subject)",
  height ~ age + (age | Subject), boys, c(Subject = "subject"), rows = list(c(1, 0), c(0, 1)))
pixel <- plain(nlme::Pixel); pixel$t <- pixel$day / 10; pixel$DS <- interaction(pixel$Dog, pixel$Side, drop = TRUE)
run_slopes("pixel", "nlme Pixel", "Pinheiro & Bates (2000), as cited by nlme",
  "t + t^2 + (t | dog) + (1 | dog:side), t = day / 10", pixel ~ t + I(t^2) + (t | Dog) + (1 | DS), pixel,
  c(Dog = "dog", DS = "side"), rows = list(unit(3, 2)[1, ], unit(3, 3)[1, ]))
spruce <- plain(nlme::Spruce); spruce$t <- (spruce$days - 400) / 100
run_slopes("spruce", "nlme Spruce", "Diggle, Liang & Zeger (1994), as cited by nlme",
  "plot * t + (t | tree), t = (days - 400) / 100", logSize ~ plot * t + (t | Tree), spruce,
  c(Tree = "tree"), tests = list(plot = unit(8, 6:8)), rows = list(unit(8, 5)[1, ], unit(8, 6)[1, ]))

# singular: intercepts and slopes of the whole plots are one, correlation 1
oats <- plain(nlme::Oats); oats$n <- oats$nitro * 5; oats$W <- interaction(oats$Block, oats$Variety, drop = TRUE)
run_slopes("oats-slopes", "nlme Oats", "Yates (1935), as cited by nlme",
  "variety * n + (n | block:variety), n = nitro * 5", yield ~ Variety * n + (n | W), oats,
  c(W = "whole plot"), tests = list(slopes = unit(6, 5:6)), rows = list(unit(6, 5)[1, ]), by = fit)

# --- serial correlation and variances by group ------------------------------------------
criterion <- function(V, y, X) {
  U <- try(chol(V), silent = TRUE)
  if (inherits(U, "try-error")) return(1e10)
  Xs <- backsolve(U, X, transpose = TRUE); ys <- backsolve(U, y, transpose = TRUE)
  A <- crossprod(Xs); r <- ys - Xs %*% solve(A, crossprod(Xs, ys))
  2 * sum(log(diag(U))) + c(determinant(A)$modulus) + sum(r^2) + (length(y) - ncol(X)) * log(2 * pi)
}
same <- function(g) outer(as.integer(factor(g)), as.integer(factor(g)), "==") * 1
serial <- function(name, data, source, model, m, y, X, build, start) {
  f <- function(th) criterion(build(th), y, X)
  off <- f(start) + 2 * as.numeric(logLik(m))
  cat(name, "nlme's criterion less ours at its parameters", off, "\n")
  stopifnot(abs(off) < 1e-6 * abs(f(start)))
  # correlations on the logit scale: numerical derivatives must not step beyond one
  bound <- grepl("correlation$", names(start)); scale <- pmax(abs(start), 1e-3)
  back <- function(u) { th <- u * scale; th[bound] <- plogis(u[bound]); th }
  g1 <- function(u) f(back(u))
  u <- start / scale; u[bound] <- qlogis(start[bound])
  for (i in 1:15) {
    g <- grad(g1, u, method.args = list(r = 6)); H <- hessian(g1, u, method.args = list(r = 6))
    step <- solve(H, g); u <- u - step
    if (max(abs(step)) < 1e-9) break
  }
  stopifnot(all(eigen(H)$values > 0), g1(u) <= f(start) + 1e-9)
  th <- back(u); names(th) <- names(start)
  U <- chol(build(th)); Xs <- backsolve(U, X, transpose = TRUE); ys <- backsolve(U, y, transpose = TRUE)
  Phi <- solve(crossprod(Xs)); b <- Phi %*% crossprod(Xs, ys)
  cases <- list(case("objective", f(th), "computed, optimized", "1e-8"))
  for (k in names(th)) cases <- c(cases, list(case(paste("component", k), th[[k]], "computed, optimized", "1e-5")))
  for (i in seq_along(b)) cases <- c(cases, list(
    # to 1e-7 of its value, or of its standard error where that is larger
    list(quantity = paste("fixed", i - 1), value = txt(b[i]), kind = "computed, optimized",
         absolute = txt(1e-7 * max(abs(b[i]), sqrt(Phi[i, i])))),
    case(paste("se model", i - 1), sqrt(Phi[i, i]), "computed, optimized", "1e-6")))
  write(name, data, source, model, cases)
  cat(name, f(th), th, "nlme off by", max(abs(start / th - 1)), "\n")
}
control <- lmeControl(msTol = 1e-13, tolerance = 1e-12, msMaxIter = 1000, maxIter = 1000, niterEM = 50,
                      msVerbose = FALSE, returnObject = TRUE, opt = "nlminb")
# equal spacing: Ovary, random intercept and AR(1) without a nugget
ovary <- plain(nlme::Ovary); ovary <- ovary[order(as.numeric(ovary$Mare), ovary$Time), ]
ovary$visit <- ave(ovary$Time, ovary$Mare, FUN = function(t) rank(t))
ovary$s <- sin(2 * pi * ovary$Time); ovary$c <- cos(2 * pi * ovary$Time)
m <- lme(follicles ~ s + c, ovary, ~ 1 | Mare, corAR1(form = ~ visit | Mare), control = control)
rho <- coef(m$modelStruct$corStruct, unconstrained = FALSE)[[1]]
G <- same(ovary$Mare); lag <- abs(outer(ovary$visit, ovary$visit, "-"))
serial("ovary", "nlme Ovary", "Pierson & Ginther (1987), as cited by nlme",
  "sin + cos + (1 | mare), AR(1) over the rank of time in mare", m, ovary$follicles,
  model.matrix(~ s + c, ovary), function(th) th[1] * G + th[2] * G * th[3]^lag,
  c(mare = as.numeric(VarCorr(m)[1, 1]), residual = m$sigma^2, "residual correlation" = rho))
# unequal spacing: BodyWeight, exponential decay in time with a nugget, by rat; diets fixed
bw <- plain(nlme::BodyWeight)
m <- gls(weight ~ Diet * Time, bw, corExp(form = ~ Time | Rat, nugget = TRUE, value = c(50, 0.05)),
         control = glsControl(msTol = 1e-13, tolerance = 1e-12, msMaxIter = 1000, maxIter = 1000))
par <- coef(m$modelStruct$corStruct, unconstrained = FALSE)
G <- same(bw$Rat); lag <- abs(outer(bw$Time, bw$Time, "-")); I <- diag(nrow(bw))
serial("body-weight", "nlme BodyWeight", "Hand & Crowder (1996), as cited by nlme",
  "diet * time, exponential decay over time in rat (unit 7 days) and a nugget", m, bw$weight,
  model.matrix(~ Diet * Time, bw), function(th) th[1] * G * th[2]^(lag / 7) + th[3] * I,
  c(rat = m$sigma^2 * (1 - par[[2]]), "rat correlation" = exp(-7 / par[[1]]),
    residual = m$sigma^2 * par[[2]]))
# variance by group: Orthodont, random slopes and residuals by sex
m <- lme(distance ~ t * Sex, ortho, ~ t | Subject, weights = varIdent(form = ~ 1 | Sex), control = control)
G <- same(ortho$Subject); Z <- cbind(1, ortho$t); vc <- getVarCov(m)
ratio <- coef(m$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE)
sex <- ortho$Sex == "Female"
serial("orthodont-sex", "nlme Orthodont", "Potthoff & Roy (1964), as cited by nlme",
  "t * sex + (t | subject), residual by sex, t = age - 11", m, ortho$distance,
  model.matrix(~ t * Sex, ortho), function(th)
    G * (Z %*% matrix(th[c(1, 2, 2, 3)], 2) %*% t(Z)) + diag(ifelse(sex, th[4], th[5])),
  c("subject intercept" = vc[1, 1], "subject covariance" = vc[1, 2], "subject slope" = vc[2, 2],
    "residual Female" = (m$sigma * ratio[["Female"]])^2, "residual Male" = (m$sigma * ratio[["Male"]])^2))
# serial with a variance at each age: Orthodont, AR(1) over visits
ortho$visit <- (ortho$age - 6) / 2
m <- gls(distance ~ t * Sex, ortho, corAR1(form = ~ visit | Subject), weights = varIdent(form = ~ 1 | age),
         control = glsControl(msTol = 1e-13, tolerance = 1e-12, msMaxIter = 1000, maxIter = 1000))
ratio <- coef(m$modelStruct$varStruct, unconstrained = FALSE, allCoef = TRUE)[as.character(c(8, 10, 12, 14))]
rho <- coef(m$modelStruct$corStruct, unconstrained = FALSE)[[1]]
lag <- abs(outer(ortho$visit, ortho$visit, "-"))
serial("orthodont-visits", "nlme Orthodont", "Potthoff & Roy (1964), as cited by nlme",
  "t * sex, AR(1) over visits in subject with a variance a visit, t = age - 11", m, ortho$distance,
  model.matrix(~ t * Sex, ortho), function(th) {
    s <- sqrt(th[1:4])[ortho$visit]; G * outer(s, s) * th[5]^lag },
  c("subject 8" = (m$sigma * ratio[[1]])^2, "subject 10" = (m$sigma * ratio[[2]])^2,
    "subject 12" = (m$sigma * ratio[[3]])^2, "subject 14" = (m$sigma * ratio[[4]])^2,
    "subject correlation" = rho))
# unequal spacing in a growing tree: Spruce, random tree and exponential decay in days
keep <- spruce[as.integer(factor(spruce$Tree)) %% 3 == 0, ]
m <- lme(logSize ~ plot * t, keep, ~ 1 | Tree, corExp(form = ~ days | Tree, value = 200), control = control)
range <- coef(m$modelStruct$corStruct, unconstrained = FALSE)[[1]]
G <- same(keep$Tree); lag <- abs(outer(keep$days, keep$days, "-"))
serial("spruce-serial", "nlme Spruce, every third tree in the order of names", "Diggle, Liang & Zeger (1994), as cited by nlme",
  "plot * t + (1 | tree), exponential decay over days in tree (unit 30 days)", m, keep$logSize,
  model.matrix(~ plot * t, keep), function(th) th[1] * G + th[2] * G * th[3]^(lag / 30),
  c(tree = as.numeric(VarCorr(m)[1, 1]), residual = m$sigma^2, "residual correlation" = exp(-30 / range)))
