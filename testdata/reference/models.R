# Functions shared by the scripts that make reference values of tests between groups and of regression models.
#
# A case is a list with s (a sample as in common.R), group and stratum (numbers from 0), x (a matrix of covariates, with
# names) and, for late entry, s$entry. write_models prints what R's packages make of it.
# The format is described in testdata/README.md. Needs common.R.

suppressPackageStartupMessages(library(cmprsk))

# ---- JSON of nested lists: a vector in one() is a number, any other an array; a matrix is an array of its rows ----
one <- function(x) structure(x, class = "one")
json <- function(x) {
  if (is.null(x) || is.list(x) && length(x) == 0) "null"
  else if (inherits(x, "one")) { if (is.character(x)) string(unclass(x)) else if (is.logical(x)) tolower(unclass(x)) else number(unclass(x)) }
  else if (is.matrix(x)) paste0("[", paste(apply(x, 1, function(r) vector_json(unname(r))), collapse = ", "), "]")
  else if (is.list(x) && !is.null(names(x))) paste0("{", paste0(vapply(names(x), string, ""), ": ", vapply(x, json, ""), collapse = ", "), "}")
  else if (is.list(x)) paste0("[", paste(vapply(x, json, ""), collapse = ",\n  "), "]")
  else if (is.character(x)) paste0("[", paste(string(x), collapse = ", "), "]")
  else vector_json(unname(x))
}

# ---- tests between groups ----

# The log-rank test of survdiff; with late entry, which survdiff does not take, from its definition.
logrank_expect <- function(case, cause, stratified) {
  s <- case$s; event <- as.integer(s$cause == cause); g <- factor(case$group); st <- if (stratified) case$stratum else rep(0, length(g))
  if (is.null(s$entry)) {
    f <- tryCatch(if (stratified) survdiff(Surv(s$exit, event) ~ g + strata(st)) else survdiff(Surv(s$exit, event) ~ g), error = function(e) NULL)
    if (is.null(f)) return(NULL)
    O <- if (is.matrix(f$obs)) rowSums(f$obs) else f$obs; E <- if (is.matrix(f$exp)) rowSums(f$exp) else f$exp; V <- f$var
  } else {
    O <- E <- numeric(nlevels(g)); V <- matrix(0, nlevels(g), nlevels(g)); l <- levels(g)
    for (k in unique(st)) for (t in sort(unique(s$exit[event == 1 & st == k]))) {
      at <- st == k & s$entry < t & s$exit >= t; d <- at & s$exit == t & event == 1
      n <- vapply(l, function(x) sum(at & g == x), 0); e <- vapply(l, function(x) sum(d & g == x), 0); N <- sum(n); D <- sum(e)
      O <- O + e; E <- E + D * n / N; if (N > 1) V <- V + D * (N - D) / (N - 1) * (diag(n / N) - outer(n, n) / N^2)
    }
  }
  # groups at risk with no other have no variance
  keep <- diag(V) > 1e-12; u <- (O - E)[keep][-1]; v <- V[keep, keep, drop = FALSE][-1, -1, drop = FALSE]; q <- qr(v)
  if (q$rank < nrow(v)) return(NULL) # sets of groups that never meet: not in R's form
  x <- sum(u * solve(v, u))
  score <- as.numeric(case$group) # the trend: the score test of a Cox model with exact ties
  trend <- if (is.null(s$entry)) if (stratified) coxph(Surv(s$exit, event) ~ score + strata(st), ties = "exact")$score else coxph(Surv(s$exit, event) ~ score, ties = "exact")$score
  list(test = one("log-rank"), trend = if (!is.null(trend)) one(trend), cause = one(cause), stratified = one(stratified), observed = as.vector(O), expected = as.vector(E), variance = unname(V),
       chi_square = one(x), df = one(nrow(v)), p = one(pchisq(x, nrow(v), lower.tail = FALSE)))
}

gray_expect <- function(case, cause, stratified, rho = 0) {
  s <- case$s; g <- case$group; st <- if (stratified) case$stratum else rep(0, length(g))
  f <- tryCatch(cuminc(s$exit, s$cause, g, strata = st, rho = rho), error = function(e) NULL)
  if (is.null(f) || is.null(f$Tests)) return(NULL)
  x <- f$Tests[as.character(cause), ]
  if (!is.finite(x[1]) || x[1] < 0 || x[1] > 1e3) return(NULL)
  list(test = one("gray"), cause = one(cause), stratified = one(stratified), rho = one(rho), chi_square = one(x[[1]]), df = one(x[[3]]), p = one(x[[2]]))
}

tests_of <- function(case) {
  causes <- sort(unique(case$s$cause[case$s$cause > 0])); out <- list()
  for (k in causes) for (st in c(FALSE, TRUE)) {
    out <- c(out, list(logrank_expect(case, k, st)))
    if (is.null(case$s$entry)) out <- c(out, list(gray_expect(case, k, st)), if (k == 1) list(gray_expect(case, k, st, 1)))
  }
  out[!vapply(out, is.null, TRUE)]
}

# One minus Kaplan-Meier and the incidence in a fixed mix of the strata, from survfit in each, with limits after Fay & Feuer (1997).
standard_expect <- function(case, cause) {
  s <- case$s; at <- as.numeric(quantile(s$exit, 0.5, type = 1)); a <- sort(unique(case$stratum)); mix <- 1 / seq_along(a); mix <- mix / sum(mix); out <- list()
  if (min(tapply(s$exit, case$stratum, max)) <= at) return(NULL)
  for (estimand in c("kaplan-meier", "cumulative-incidence")) {
    v <- vapply(a, function(k) {
      i <- case$stratum == k
      all <- summary(survfit(Surv(s$exit[i], s$cause[i] > 0) ~ 1), times = at, extend = TRUE)$surv
      if (estimand == "kaplan-meier") { f <- summary(survfit(Surv(s$exit[i], s$cause[i] == cause) ~ 1), times = at, extend = TRUE); c(1 - f$surv, f$std.err, f$surv) }
      else { f <- summary(survfit(Surv(s$exit[i], factor(s$cause[i], 0:max(s$cause))) ~ 1), times = at, extend = TRUE); c(f$pstate[1, 1 + cause], f$std.err[1, 1 + cause], all) }
    }, numeric(3))
    P <- sum(mix * v[1, ]); V <- sum(mix^2 * v[2, ]^2); w <- max(mix * v[3, ] / vapply(a, function(k) sum(case$stratum == k & (s$exit > at | s$exit == at & !(s$cause %in% if (estimand == "kaplan-meier") cause else 1:max(s$cause)))), 0))
    if (P > 0) out <- c(out, list(list(estimand = one(estimand), cause = one(cause), at = one(at), mix = mix, estimate = one(P), se = one(sqrt(V)),
      limits = c(qgamma((1 - LEVEL) / 2, P^2 / V, P / V), min(1, qgamma((1 + LEVEL) / 2, (P + w)^2 / (V + w^2), (P + w) / (V + w^2)))))))
  }
  out
}

# A smoothed hazard by the boundary kernels of Mueller & Wang (1994), which no package of Debian has: from its definition.
smooth_expect <- function(case, cause) {
  s <- case$s; days <- sort(unique(s$exit)); n <- vapply(days, function(t) sum(s$exit >= t), 0); R <- max(days[n >= 10]); days <- days[n >= 10]; n <- n[n >= 10]
  d <- vapply(days, function(t) sum(s$exit == t & s$cause == cause), 0); if (sum(d) < 10) return(NULL)
  K <- function(x, q) ifelse(x < -1 | x > q, 0, 12 / (1 + q)^4 * (x + 1) * (x * (1 - 2 * q) + (3 * q^2 - 2 * q + 1) / 2))
  b <- min(R / 2, 0.4 * R * sum(d)^-0.2); at <- R * c(0, 0.1, 0.4, 0.75, 1)
  k <- vapply(at, function(t) if ((R - t) / b < 1) K((days - t) / b, (R - t) / b) else K((t - days) / b, min(1, t / b)), days)
  list(list(cause = one(cause), bandwidth = one(b), end = one(R), at = at, hazard = pmax(0, colSums(k * d / n) / b), se = sqrt(colSums(k^2 * d / n^2)) / b))
}

# ---- models ----

tight <- coxph.control(eps = 1e-15, toler.chol = 1e-18, iter.max = 100, timefix = FALSE)

cox_expect <- function(case, cause, ties, stratified = FALSE, weighted = FALSE, clustered = FALSE, proportional = FALSE) {
  s <- case$s; event <- as.integer(s$cause == cause); d <- as.data.frame(case$x); names(d) <- paste0("x", seq_along(d))
  d$st <- case$stratum; y <- if (is.null(s$entry)) Surv(s$exit, event) else Surv(s$entry, s$exit, event)
  text <- paste("y ~", paste(paste0("x", seq_len(ncol(case$x))), collapse = " + "), if (stratified) "+ strata(st)")
  args <- list(formula = as.formula(text), data = d, ties = ties, control = tight)
  if (weighted) { args$weights <- s$weight; args$robust <- TRUE; if (!is.null(s$entry)) args$cluster <- seq_along(s$exit) }
  if (clustered) args$cluster <- s$cluster
  environment(args$formula) <- environment(); bad <- FALSE
  f <- withCallingHandlers(do.call(coxph, args), warning = function(w) { bad <<- TRUE; invokeRestart("muffleWarning") })
  if (any(is.na(coef(f))) || max(abs(coef(f))) > 8) return(NULL)
  # It stops when the likelihood rises no more, which leaves coefficients eight digits: one step more.
  at_zero <- f; args$init <- coef(f); f <- suppressWarnings(do.call(coxph, args)); b <- coef(f)
  robust <- weighted || clustered
  out <- list(model = one("cox"), cause = one(cause), ties = one(ties), stratified = one(stratified), weighted = one(weighted), clustered = one(clustered),
    coefficient = unname(coef(f)), variance = unname(f$var), naive = unname(if (robust) f$naive.var else f$var), log_likelihood = c(at_zero$loglik[1], f$loglik[2]),
    score = one(at_zero$score), wald = one(drop(b %*% solve(f$var, b))), robust_score = if (robust && !is.null(at_zero$rscore)) one(at_zero$rscore))
  if (proportional) out$proportional <- Filter(Negate(is.null), lapply(c(km = "km", identity = "identity", log = "log"),
    function(g) tryCatch(unname(cox.zph(f, g, terms = FALSE)$table[, 1]), error = function(e) NULL))) # its matrix may be too ill-conditioned
  if (!stratified && !weighted && !clustered && is.null(s$entry)) {
    h <- basehaz(f, centered = FALSE); events <- sort(unique(s$exit[event == 1]))
    out$baseline <- list(time = events, cumulative = h$hazard[match(events, h$time)])
  }
  out
}

# One ratio for each period: rows split at the cuts.
split_expect <- function(case, cause, ties, cuts) {
  s <- case$s; d <- as.data.frame(case$x); p <- ncol(case$x); names(d) <- paste0("x", seq_len(p)); d$exit <- s$exit; d$event <- as.integer(s$cause == cause)
  d$start <- if (is.null(s$entry)) min(s$exit) - 1 else s$entry
  d <- survSplit(Surv(start, exit, event) ~ ., d, cut = cuts, episode = "period", start = "start")
  for (k in seq_len(length(cuts) + 1)) d[[paste0("p", k)]] <- d$x1 * (d$period == k)
  columns <- c("p1", paste0("x", seq_len(p))[-1], paste0("p", 1 + seq_along(cuts)))
  fit <- function(init = numeric(length(columns))) suppressWarnings(coxph(as.formula(paste("Surv(start, exit, event) ~", paste(columns, collapse = " + "))), d, ties = ties, control = tight, init = init))
  f <- fit(); if (!anyNA(coef(f))) f <- fit(coef(f))
  if (any(is.na(coef(f))) || max(abs(coef(f))) > 8) return(NULL)
  list(model = one("periods"), cause = one(cause), ties = one(ties), cuts = cuts, coefficient = unname(coef(f)), variance = unname(f$var), log_likelihood = f$loglik[2])
}

finegray_expect <- function(case, cause) {
  fit <- function(...) tryCatch(suppressWarnings(crr(case$s$exit, case$s$cause, case$x, failcode = cause, ...)), error = function(e) NULL)
  f <- fit(gtol = 1e-10, maxiter = 100); if (is.null(f) || !f$converged) return(NULL)
  f <- to_the_last_digits(f, fit)
  if (is.null(f) || max(abs(f$coef)) > 8 || anyNA(f$var)) return(NULL)
  list(model = one("fine-gray"), cause = one(cause), coefficient = unname(f$coef), variance = unname(f$var), naive = unname(f$invinf),
       log_likelihood = c(f$loglik.null, f$loglik), baseline = list(time = f$uftime, cumulative = cumsum(f$bfitj)))
}

# Firth's penalised likelihood, which no package of Debian has: written from its definition, with the information by
# explicit sums over all pairs of covariates, maximised by general-purpose optimisers. Limits by uniroot.
firth_expect <- function(case, cause, ties, tolerance) {
  X <- case$x; s <- case$s; p <- ncol(X); event <- s$cause == cause; entry <- if (is.null(s$entry)) rep(-Inf, nrow(X)) else s$entry
  penalised <- function(b) {
    l <- 0; I <- matrix(0, p, p); r <- exp(drop(X %*% b))
    for (t in sort(unique(s$exit[event]))) {
      at <- which(entry < t & s$exit >= t); dead <- event[at] & s$exit[at] == t; D <- sum(dead)
      l <- l + sum(X[at[dead], , drop = FALSE] %*% b)
      for (k in seq_len(D) - 1) {
        w <- r[at] * (1 - if (ties == "efron") dead * k / D else 0); q <- w / sum(w); m <- colSums(q * X[at, , drop = FALSE])
        l <- l - log(sum(w)); I <- I + crossprod(X[at, , drop = FALSE], q * X[at, , drop = FALSE]) - outer(m, m)
      }
    }
    l + 0.5 * as.numeric(determinant(I)$modulus)
  }
  best <- function(j = 0, value = 0, start = numeric(p)) {
    free <- setdiff(seq_len(p), j); fill <- function(z) { b <- numeric(p); b[free] <- z; if (j > 0) b[j] <- value; b }
    if (length(free) == 0) return(list(b = value, l = penalised(value)))
    fn <- function(z) { v <- -penalised(fill(z)); if (is.finite(v)) v else 1e10 }
    o <- optim(start[free], fn, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
    n <- tryCatch(suppressWarnings(nlm(fn, o$par, gradtol = 1e-11, steptol = 1e-13, iterlim = 500)), error = function(e) NULL)
    if (is.null(n) || n$minimum > o$value) list(b = fill(o$par), l = -o$value) else list(b = fill(n$estimate), l = -n$minimum)
  }
  top <- best()
  limits <- t(vapply(seq_len(p), function(j) {
    fall <- function(v) 2 * (top$l - best(j, v, top$b)$l) - qchisq(LEVEL, 1)
    c(uniroot(function(v) fall(v), top$b[j] - c(12, 0), tol = 1e-9)$root, uniroot(function(v) fall(v), top$b[j] + c(0, 12), tol = 1e-9)$root)
  }, numeric(2)))
  p_values <- vapply(seq_len(p), function(j) pchisq(2 * (top$l - best(j, 0, top$b)$l), 1, lower.tail = FALSE), 0)
  list(model = one("firth"), cause = one(cause), ties = one(ties), coefficient = top$b, limits = limits, p = p_values,
       log_likelihood = c(penalised(numeric(p)), top$l), tolerance = one(tolerance))
}

# Everything but Firth's likelihood, for cause 1.
models_of <- function(case) {
  s <- case$s; out <- list(); add <- function(x) out <<- c(out, list(x)); cuts <- sort(unique(as.numeric(quantile(s$exit[s$cause == 1], c(0.35, 0.7)))))
  for (ties in c("efron", "breslow")) {
    add(cox_expect(case, 1, ties, proportional = min(s$exit) > 0)); add(cox_expect(case, 1, ties, stratified = TRUE, proportional = min(s$exit) > 0))
    if (!is.null(s$weight)) add(cox_expect(case, 1, ties, weighted = TRUE))
    if (!is.null(s$cluster)) { add(cox_expect(case, 1, ties, clustered = TRUE)); add(cox_expect(case, 1, ties, stratified = TRUE, clustered = TRUE)) }
    if (!is.null(s$weight) && !is.null(s$cluster)) add(cox_expect(case, 1, ties, TRUE, TRUE, TRUE))
    add(split_expect(case, 1, ties, cuts))
  }
  if (is.null(s$entry)) for (k in sort(unique(s$cause[s$cause > 0]))) add(finegray_expect(case, k))
  out[!vapply(out, is.null, TRUE)]
}

write_models <- function(folder, name, source, case, extra = list(), tolerance = 1e-9, note = "") {
  whole <- list(name = one(name), source = one(source),
    sample = c(case$s[intersect(c("entry", "exit", "cause", "weight", "cluster"), names(case$s))]),
    group = case$group, stratum = case$stratum, names = colnames(case$x), design = unname(case$x),
    tests = tests_of(case), standardised = if (is.null(case$s$entry)) standard_expect(case, 1), smoothed = if (is.null(case$s$entry)) smooth_expect(case, 1), models = c(models_of(case), extra), tolerance = one(tolerance), note = one(note))
  parts <- paste0("\"", names(whole), "\": ", vapply(whole, json, ""))
  writeLines(paste0("{\n", paste(parts, collapse = ",\n"), "\n}\n"), file.path(folder, paste0(name, ".json")), sep = "", useBytes = TRUE)
}

# ---- samples ----

# A random sample with heavy ties, groups of which the last differs, and covariates of several kinds.
draw_models <- function(n, days, causes, late = FALSE, weights = FALSE, clusters = FALSE, groups = 3) {
  g <- sample(0:(groups - 1), n, TRUE); z <- round(rnorm(n), 1); b <- rbinom(n, 1, 0.4)
  rate <- exp(0.5 * (g == groups - 1) - 0.3 * z + 0.2 * b)
  t <- matrix(rexp(n * causes), n) / cbind(rate, matrix(1, n, causes - 1))[, seq_len(causes)] * 0.7 * days; first <- max.col(-t, ties.method = "first")
  end <- runif(n, 0.2, 1.1) * days; t <- t[cbind(seq_len(n), first)]
  s <- list(exit = pmin(days, pmax(1, ceiling(pmin(t, end)))), cause = ifelse(t <= end, first, 0))
  if (late) s$entry <- ifelse(runif(n) < 0.5, 0, floor(runif(n) * s$exit))
  if (weights) s$weight <- round(runif(n, 0.3, 3), 2)
  if (clusters) s$cluster <- sample(ceiling(n * 0.7), n, TRUE)
  x <- cbind(outer(g, seq_len(groups - 1), "==") + 0, z, b); colnames(x) <- c(paste("group", seq_len(groups - 1)), "number", "yes")
  list(s = s, group = g, stratum = sample(0:1, n, TRUE), x = x)
}
