# How far the packages and the Greenwood-type variance of testdata/README.md agree. Rscript agreement.R
# Prints the largest relative difference of estimates and standard errors from the delta method of common.R.
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE)))
source(file.path(here, "common.R"))
suppressPackageStartupMessages({ library(etm); library(prodlim); library(cmprsk) })

step_by_step <- function(s, causes, k) {
  c <- counts(s, causes); S <- 1; F <- V <- C <- W <- 0; out <- numeric(0)
  for (j in seq_along(c$n)) {
    n <- c$n[j]; dk <- c$d[j, k]; d <- sum(c$d[j, ]); a <- dk / n; q <- 1 - d / n
    W <- W + 2 * a * C + a^2 * V + S^2 * dk * (n - dk) / n^3
    C <- q * (C + a * V) - S^2 * dk * (n - d) / n^3
    F <- F + S * a; V <- q^2 * V + S^2 * d * (n - d) / n^3; S <- q * S
    out <- rbind(out, base::c(F, W))
  }
  out
}
# Largest relative difference; a value the package does not give (NaN) is left out and counted.
missing_values <- 0
worst <- function(x, want) {
  missing_values <<- missing_values + sum(is.na(x))
  ok <- want > 1e-12 & !is.na(x); max(0, abs(x[ok] / want[ok] - 1))
}
line <- function(sample, other, estimate, se) {
  show <- function(x) if (x < 1e-10) "< 1e-10" else sprintf("%.1e", x)
  missing_values <<- 0; e <- show(estimate); v <- show(se)
  cat(sprintf("%-36s %-22s %-9s %-9s%s\n", sample, other, e, v,
    if (missing_values) sprintf(" %d not given", missing_values) else ""))
}

compare <- function(name, s, causes) {
  for (k in seq_len(causes)) {
    want <- delta_method(s, causes, k); sd <- sqrt(want$variance); label <- paste0(name, ", cause ", k)
    x <- step_by_step(s, causes, k); line(label, "step by step", worst(x[, 1], want$estimate), worst(sqrt(x[, 2]), sd))
    event <- factor(s$cause, 0:causes); fit <- fit_curve(s, event, robust = FALSE); at <- match(fit$time, want$days)
    line(label, "survival (jackknife)", worst(fit$pstate[, k + 1], want$estimate[at]), worst(fit$std.err[, k + 1], sd[at]))
    if (all(s$exit > 0)) {
      fit <- etm_curve(s, causes); j <- fit$time > 0; at <- match(fit$time[j], want$days)
      line(label, "etm", worst(trprob(fit, paste(0, k))[j], want$estimate[at]), worst(sqrt(pmax(0, trcov(fit, paste(0, k))))[j], sd[at]))
    }
    data <- data.frame(exit = s$exit, cause = s$cause); data$entry <- s$entry
    fit <- if (is.null(s$entry)) prodlim(Hist(exit, cause) ~ 1, data) else prodlim(Hist(exit, cause, entry = entry) ~ 1, data)
    j <- fit$time %in% want$days; at <- match(fit$time[j], want$days)
    line(label, "prodlim", worst(fit$cuminc[[as.character(k)]][j], want$estimate[at]), worst(fit$se.cuminc[[as.character(k)]][j], sd[at]))
    if (is.null(s$entry)) {
      fit <- timepoints(cuminc(s$exit, s$cause), want$days); row <- grep(paste0(" ", k, "$"), rownames(fit$est))
      line(label, "cmprsk (Aalen-type)", worst(fit$est[row, ], want$estimate), worst(sqrt(fit$var[row, ]), sd))
    }
  }
}

set.seed(7, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
cat(R.version.string, "\n", sprintf("%-36s %-22s %-9s %-9s\n", "sample", "compared", "estimate", "error"), sep = "")
for (n in c(30, 200)) {
  compare(paste("no ties, n", n), list(exit = sample(n), cause = sample(0:2, n, TRUE)), 2)
  compare(paste("ties, n", n), list(exit = sample(n / 5, n, TRUE), cause = sample(0:2, n, TRUE)), 2)
  compare(paste("ties, three causes, n", n), list(exit = sample(n / 5, n, TRUE), cause = sample(0:3, n, TRUE)), 3)
  s <- list(exit = sample(2 * n, n) / 2, cause = sample(0:2, n, TRUE)); s$entry <- floor(runif(n) * s$exit) * (runif(n) < 0.5) - 0.25
  s$exit <- s$exit + 1; s$entry <- pmax(0, s$entry); compare(paste("late entry, no ties, n", n), s, 2)
  s <- list(exit = sample(n / 5, n, TRUE), cause = sample(0:2, n, TRUE)); s$entry <- floor(runif(n) * s$exit) * (runif(n) < 0.5)
  compare(paste("late entry, ties, n", n), s, 2)
}
data(abortion, package = "etm")
s <- list(entry = abortion$entry, exit = abortion$exit, cause = abortion$cause)
for (g in 0:1) compare(paste("etm's abortion data, group", g), lapply(s, function(x) x[abortion$group == g]), 3)
