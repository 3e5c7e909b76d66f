# Functions shared by the scripts that make reference values.
#
# A sample is a list with exit, cause (0 censored, 1..K) and, or NULL, entry, weight, cluster.
# Each *_expect function returns one element of a case's "expect"; write_case prints the case.
# The format is described in testdata/README.md.

suppressPackageStartupMessages(library(survival))
LEVEL <- 0.95

made_with <- function(script, ...) {
  packages <- c("survival", ...)
  versions <- vapply(packages, function(p) as.character(packageVersion(p)), "")
  paste0("calculated with testdata/reference/", script, ", ", sub(" \\(.*", "", sub("version ", "", R.version.string)), ", ",
         paste(packages, versions, collapse = ", "))
}

# ---- counts and definitions that do not come from a package ----

# Days (distinct exit times), n at risk on (entry, exit], events by cause.
counts <- function(s, causes) {
  w <- if (is.null(s$weight)) rep(1, length(s$exit)) else s$weight
  entry <- if (is.null(s$entry)) rep(-Inf, length(s$exit)) else s$entry
  days <- as.numeric(sort(unique(s$exit)))
  n <- vapply(days, function(t) sum(w[entry < t & t <= s$exit]), 0)
  d <- vapply(seq_len(causes), function(k) vapply(days, function(t) sum(w[s$exit == t & s$cause == k]), 0), numeric(length(days)))
  list(days = days, n = n, d = matrix(d, length(days), causes))
}

# Delta method on the days' multinomial proportions, from derivatives written as products that leave
# one day out. Returns F_k, its variance on each day, and a function of tau: area under F_k and its variance.
delta_method <- function(s, causes, k) {
  c <- counts(s, causes)
  m <- length(c$days); p <- c$d / c$n; q <- 1 - rowSums(p)
  before <- cumprod(base::c(1, q))[seq_len(m)]
  F <- cumsum(before * p[, k])
  G <- array(0, base::c(m, causes, m)) # day of the proportion, cause, day of F
  for (i in seq_len(m)) {
    without <- q; without[i] <- 1
    left_out <- cumprod(base::c(1, without))[seq_len(m)] * p[, k]
    left_out[seq_len(i)] <- 0
    later <- cumsum(left_out)
    for (l in seq_len(causes)) {
      G[i, l, ] <- -later
      if (l == k) G[i, l, i:m] <- G[i, l, i:m] + before[i]
      if (i > 1) G[i, l, seq_len(i - 1)] <- 0
    }
  }
  quadratic <- function(g) sum((rowSums(g^2 * p) - rowSums(g * p)^2) / c$n)
  variance <- vapply(seq_len(m), function(j) quadratic(matrix(G[, , j], m, causes)), 0)
  area <- function(tau) {
    width <- pmax(0, pmin(base::c(c$days[-1], Inf), tau) - pmin(c$days, tau))
    g <- matrix(apply(G, base::c(1, 2), function(x) sum(x * width)), m, causes)
    list(mean = sum(width * F), se = sqrt(quadratic(g)))
  }
  list(days = c$days, estimate = F, variance = variance, area = area)
}

# Beta quantile: qbeta, then Newton steps on pbeta in the tail that is small.
beta_quantile <- function(p, a, b) {
  x <- qbeta(p, a, b)
  for (i in 1:20) {
    if (x <= 0 || x >= 1) break
    step <- if (p < 0.5) (pbeta(x, a, b) - p) / dbeta(x, a, b)
            else ((1 - p) - pbeta(x, a, b, lower.tail = FALSE)) / dbeta(x, a, b)
    if (!is.finite(step) || abs(step) < 1e-16 * x) break
    x <- x - step
  }
  x
}

# Beta product limits (Fay, Brittain & Proschan, Biostatistics 2013;14:723), method of moments, of 1-S.
# The first two moments of a product of independent Beta variables are the products of theirs; the
# products are kept as logs. The last factor of the lower limit of S is Beta(rest, 1), rest being at risk
# less the events of the day: who leaves on the day has been seen to it. The point mass at 1 (no event yet) and at 0 (nobody left) are treated as such.
beta_product <- function(s, k) {
  c <- counts(s, k); d <- c$d[, k]; y <- c$n
  first <- log1p(-d / (y + 1))                    # log E W of Beta(y-d+1, d)
  second <- log1p(d / ((y - d + 1) * (y + 2)))    # log (E W^2 / (E W)^2)
  t(vapply(seq_along(d), function(j) {
    limit <- function(log_mean, log_ratio, p) {
      mean <- exp(log_mean); one_less <- -expm1(log_mean)
      if (one_less == 0) return(1)
      size <- one_less / (mean * expm1(log_ratio)) - 1
      beta_quantile(p, mean * size, one_less * size)
    }
    a <- sum(first[seq_len(j)]); b <- sum(second[seq_len(j)]); rest <- y[j] - d[j]
    upper <- limit(a, b, 1 - (1 - LEVEL) / 2)
    lower <- if (rest == 0) 0 else
      limit(a + log1p(-1 / (rest + 1)), b + log1p(1 / (rest * (rest + 2))), (1 - LEVEL) / 2)
    base::c(1 - upper, 1 - lower)
  }, numeric(2)))
}

# ---- expectations ----

surv_object <- function(s, event) if (is.null(s$entry)) Surv(s$exit, event) else Surv(s$entry, s$exit, event)

fit_curve <- function(s, event, conf.type = "log-log", robust = FALSE) {
  args <- list(formula = surv_object(s, event) ~ 1, conf.type = conf.type, conf.int = LEVEL, id = NULL)
  if (!is.null(s$weight)) args$weights <- s$weight
  if (!is.null(s$cluster)) args$cluster <- s$cluster
  if (robust && is.null(s$cluster)) args$cluster <- seq_along(s$exit)
  if (is.factor(event) && !is.null(s$entry)) args$id <- seq_along(s$exit)
  args <- args[!vapply(args, is.null, TRUE)]
  environment(args$formula) <- environment()
  suppressWarnings(do.call(survfit, args)) # log(-log) of 0 and 1
}

is_robust <- function(s) !is.null(s$weight) || !is.null(s$cluster)
variance_name <- function(s) if (is_robust(s)) "infinitesimal-jackknife" else "greenwood"

# Limits are given only where the estimate is inside (0, 1).
inside <- function(F) F > 0 & F < 1 - 1e-12

# With failed = TRUE a curve that has reached 1 has the beta product's limits, whatever the method.
km_expect <- function(s, k = 1, probs = NULL, tau = NULL, failed = FALSE) {
  robust <- is_robust(s); event <- s$cause == k
  fits <- lapply(c(`log-log` = "log-log", log = "log", plain = "plain"), function(ct) fit_curve(s, event, ct, robust))
  fit <- fits[["log-log"]]; sm <- summary(fit, censored = TRUE)
  F <- 1 - fit$surv; ok <- inside(F)
  limits <- lapply(fits, function(f) cbind(1 - f$upper, 1 - f$lower))
  if (!robust) limits[["beta-product"]] <- beta_product(s, k)
  points <- lapply(seq_along(fit$time), function(j) {
    out <- list(time = fit$time[j], at_risk = fit$n.risk[j], events = fit$n.event[j], estimate = F[j])
    if (ok[j] || F[j] == 0) out$se <- sm$std.err[j]
    if (ok[j]) out$limits <- lapply(limits, function(l) l[j, ])
    if (failed && F[j] == 1) out$limits <- lapply(limits, function(l) limits[["beta-product"]][j, ])
    out
  })
  out <- list(estimand = "kaplan-meier", cause = k, variance = variance_name(s), points = points)
  if (!is.null(probs)) {
    # The limits of a quantile are given where they do not depend on a convention: the curve does not reach
    # 1, its limits only rise, and the limit for "no event so far" is still below p at the first event.
    q <- quantile(fit, probs, conf.int = TRUE)
    rises <- function(x) all(diff(x[ok]) >= 0)
    first <- if (robust || all(F > 0)) 0 else max(-expm1(log((1 - LEVEL) / 2) / counts(s, k)$n[F == 0]))
    out$quantiles <- lapply(seq_along(probs), function(i) {
      x <- list(p = probs[i], time = unname(q$quantile[i]))
      if (all(F < 1) && rises(limits[["log-log"]][, 2]) && first < probs[i]) x$lower <- unname(q$lower[i])
      if (all(F < 1) && rises(limits[["log-log"]][, 1])) x$upper <- unname(q$upper[i])
      x
    })
  }
  if (!is.null(tau)) out$restricted_mean <- lapply(tau, function(x) {
    if (robust) {
      r <- residuals(fit, times = x, type = "auc")
      list(tau = x, mean = x - area_under(fit$time, F, x), se = grouped_se(s, r))
    } else {
      tab <- summary(fit, rmean = x)$table
      list(tau = x, mean = unname(tab["rmean"]), se = unname(tab["se(rmean)"]))
    }
  })
  out
}

area_under <- function(time, F, tau) {
  width <- pmax(0, pmin(c(time[-1], Inf), tau) - pmin(time, tau))
  sum(width * F)
}

# Standard error from rows' influences (derivatives by weight), added up within clusters.
grouped_se <- function(s, influence) {
  w <- if (is.null(s$weight)) 1 else s$weight
  g <- if (is.null(s$cluster)) seq_along(s$exit) else s$cluster
  sqrt(sum(rowsum(w * as.vector(influence), g)^2))
}

# Cumulative incidence from survival's multi-state fit: the infinitesimal jackknife, which without weights,
# clusters and late entry is the Greenwood-type variance. Not for late entry without weights: see etm_expect.
aj_expect <- function(s, causes, k, tau = NULL) {
  stopifnot(is.null(s$entry) || is_robust(s))
  event <- factor(s$cause, 0:causes)
  fit <- fit_curve(s, event, "log-log", is_robust(s)); plain <- fit_curve(s, event, "plain", is_robust(s))
  column <- which(fit$states == as.character(k))
  F <- fit$pstate[, column]; ok <- inside(F)
  # survfit counts rows, not weights, in a multi-state fit, and (3.5-3) its std.err does not add up within
  # clusters. So the counts are made here, and with clusters the error comes from the rows' influences.
  n <- counts(s, causes); stopifnot(identical(n$days, fit$time))
  se <- fit$std.err[, column]; lower <- fit$lower[, column]; upper <- fit$upper[, column]
  plain_lower <- plain$lower[, column]; plain_upper <- plain$upper[, column]
  if (!is.null(s$cluster)) {
    r <- residuals(fit, times = fit$time, type = "pstate")
    se <- vapply(seq_along(fit$time), function(j) grouped_se(s, r[, j, column]), 0)
    l <- incidence_limits(F, se)
    lower <- l$`log-log`[, 1]; upper <- l$`log-log`[, 2]; plain_lower <- l$plain[, 1]; plain_upper <- l$plain[, 2]
  }
  points <- lapply(seq_along(fit$time), function(j) {
    out <- list(time = fit$time[j], at_risk = n$n[j], events = n$d[j, k], estimate = F[j])
    if (ok[j] || F[j] == 0) out$se <- se[j]
    if (ok[j]) out$limits <- list(`log-log` = c(lower[j], upper[j]), plain = c(plain_lower[j], plain_upper[j]))
    out
  })
  out <- list(estimand = "cumulative-incidence", cause = k, variance = variance_name(s), points = points)
  if (!is.null(tau)) out$restricted_mean <- lapply(tau, function(x) {
    r <- residuals(fit, times = x, type = "auc")
    r <- if (length(dim(r)) == 3) r[, , column] else r[, column]
    list(tau = x, mean = area_under(fit$time, F, x), se = grouped_se(s, r))
  })
  out
}

# log-log limits on log(-log F) and plain limits, for scripts that have F and its error only.
incidence_limits <- function(F, se) {
  z <- qnorm(1 - (1 - LEVEL) / 2); g <- log(-log(F)); e <- se / abs(F * log(F))
  list(`log-log` = cbind(exp(-exp(g + z * e)), exp(-exp(g - z * e))), plain = cbind(pmax(0, F - z * se), pmin(1, F + z * se)))
}

# Cumulative incidence with late entry: estimate and variance from etm, points at its event days.
etm_curve <- function(s, causes) {
  entry <- if (is.null(s$entry)) rep(0, length(s$exit)) else s$entry
  tra <- matrix(FALSE, causes + 1, causes + 1); tra[1, -1] <- TRUE
  data <- data.frame(id = seq_along(s$exit), from = 0, to = ifelse(s$cause == 0, "cens", s$cause), entry = entry, exit = s$exit)
  etm::etm(data, as.character(0:causes), tra, "cens", s = 0, covariance = TRUE)
}

etm_expect <- function(s, causes, k, tau = NULL, fit = etm_curve(s, causes)) {
  c <- counts(s, causes); at <- match(fit$time, c$days)
  F <- as.vector(etm::trprob(fit, paste(0, k))); se <- sqrt(pmax(0, as.vector(etm::trcov(fit, paste(0, k)))))
  points <- lapply(which(fit$time > 0), function(j) {
    out <- list(time = fit$time[j], at_risk = c$n[at[j]], events = c$d[at[j], k], estimate = F[j], se = se[j])
    if (inside(F[j])) out$limits <- lapply(incidence_limits(F[j], se[j]), as.vector)
    out
  })
  out <- list(estimand = "cumulative-incidence", cause = k, variance = "greenwood", points = points)
  if (!is.null(tau)) {
    delta <- delta_method(s, causes, k)
    out$restricted_mean <- lapply(tau, function(x) c(list(tau = x), delta$area(x)))
  }
  out
}

na_expect <- function(s, k = 1) {
  fit <- fit_curve(s, s$cause == k, "log-log", is_robust(s))
  list(estimand = "nelson-aalen", cause = k, variance = if (is_robust(s)) "infinitesimal-jackknife" else "aalen",
       points = lapply(seq_along(fit$time), function(j)
         list(time = fit$time[j], at_risk = fit$n.risk[j], events = fit$n.event[j], estimate = fit$cumhaz[j], se = fit$std.chaz[j])))
}

# ---- JSON ----

# Shortest of 15 to 17 significant digits that reads back as the same number.
number <- function(x) vapply(x, function(v) {
  if (is.na(v) || is.infinite(v)) return("null")
  for (digits in 15:17) { text <- sprintf("%.*g", digits, v); if (as.numeric(text) == v) break }
  text
}, "")
vector_json <- function(x) if (is.null(x)) "null" else paste0("[", paste(number(x), collapse = ", "), "]")
string <- function(x) paste0("\"", gsub("\"", "\\\\\"", gsub("\\\\", "\\\\\\\\", x)), "\"")
object <- function(x) paste0("{", paste(vapply(names(x), function(n) {
  v <- x[[n]]
  paste0(string(n), ": ", if (is.list(v)) object(v) else if (is.character(v)) string(v) else if (length(v) == 2) vector_json(v) else number(v))
}, ""), collapse = ", "), "}")
lines_of <- function(xs) paste0("[\n        ", paste(vapply(xs, object, ""), collapse = ",\n        "), "\n      ]")

write_case <- function(folder, name, source, s, causes, expect, tolerance = 1e-10, note = "") {
  blocks <- vapply(expect, function(e) {
    head <- sprintf('    {"estimand": "%s", "cause": %d, "variance": "%s"', e$estimand, as.integer(e$cause), e$variance)
    for (part in c("points", "quantiles", "restricted_mean"))
      if (!is.null(e[[part]])) head <- paste0(head, ",\n      \"", part, "\": ", lines_of(e[[part]]))
    paste0(head, "}")
  }, "")
  text <- paste0("{\n  \"name\": ", string(name), ",\n  \"source\": ", string(source), ",\n  \"sample\": {\n",
    paste(vapply(c("entry", "exit", "cause", "weight", "cluster"), function(n)
      paste0("    \"", n, "\": ", vector_json(s[[n]])), ""), collapse = ",\n"),
    "\n  },\n  \"causes\": ", causes, ",\n  \"expect\": [\n", paste(blocks, collapse = ",\n"),
    "\n  ],\n  \"tolerance\": ", number(tolerance), ",\n  \"note\": ", string(note), "\n}\n")
  writeLines(text, file.path(folder, paste0(name, ".json")), sep = "", useBytes = TRUE)
}

# crr stops where a step no longer raises the log likelihood, which near its maximum sees no change of less than 1e-8 in a
# coefficient. Newton steps on its own score, the sum of its residuals, go to the last digits.
to_the_last_digits <- function(f, fit) {
  for (step in 1:2) if (!is.null(f)) f <- fit(maxiter = 0, init = f$coef + drop(f$invinf %*% colSums(f$res)))
  f
}
