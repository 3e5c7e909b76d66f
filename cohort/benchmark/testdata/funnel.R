# Funnel limits and over-dispersion with R's own distributions, for funnel_test.go.
#   Rscript --vanilla cohort/benchmark/testdata/funnel.R cohort/benchmark/testdata
# writes funnel-limits.csv, funnel-units.csv and funnel-dispersion.csv into the folder. Nothing is read.
folder <- commandArgs(TRUE)[1]
made <- sprintf("# Calculated with funnel.R, %s", R.version.string)
write <- function(d, name) {
  file <- file.path(folder, name)
  writeLines(made, file)
  for (i in names(d)) d[[i]] <- sprintf("%.17g", d[[i]])
  suppressWarnings(write.table(d, file, append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))
}

# The upper count r has P(Gamma(r) <= m) = alpha/2, the lower P(Gamma(r + 1) > m) = alpha/2, none if exp(-m) > alpha/2.
root <- function(f) uniroot(f, c(1e-9, 3000), tol = 1e-12)$root
upper <- function(m, p) root(function(r) pgamma(m, r) - p)
lower <- function(m, p) if (exp(-m) > p) 0 else root(function(r) p - pgamma(m, r + 1, lower.tail = FALSE))
limits <- expand.grid(expected = c(0.03, 0.1, 0.5, 1, 2.5, 3.6, 3.7, 5, 7, 8.2, 12.75, 33, 49.5, 100, 250.5, 1000),
                      target = c(1, 0.8, 1.5), level = c(0.95, 0.998))
m <- limits$expected * limits$target
limits$lower <- mapply(lower, m, (1 - limits$level) / 2) / limits$expected
limits$upper <- mapply(upper, m, (1 - limits$level) / 2) / limits$expected
limits$outside <- ppois(ceiling(limits$upper * limits$expected) - 1, m, lower.tail = FALSE) +
  ifelse(limits$lower > 0 | exp(-m) <= (1 - limits$level) / 2, ppois(floor(limits$lower * limits$expected), m), 0)
write(limits, "funnel-limits.csv")

# Invented units, of which those with less than 1 expected are passed over.
set.seed(20050429, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
expected <- round(exp(runif(30, log(0.4), log(40))), 3)
alike <- rpois(30, expected)
apart <- rpois(30, expected * rgamma(30, shape = 4, rate = 4))
write(data.frame(expected = expected, alike = alike, apart = apart), "funnel-units.csv")

dispersion <- function(observed, target, share) {
  e <- target * expected[expected >= 1]
  z <- sort((observed[expected >= 1] - e) / sqrt(e))
  raw <- mean(z^2)
  n <- length(z)
  k <- floor(share * n)
  z <- pmin(pmax(z, z[k + 1]), z[n - k])
  c(units = n, winsorised = k, phi = mean(z^2), raw = raw, p = pchisq(sum(z^2), n, lower.tail = FALSE))
}
cases <- expand.grid(apart = 0:1, target = c(1, 1.2), share = c(0, 0.1, 0.2))
rows <- mapply(function(a, t, s) dispersion(if (a) apart else alike, t, s), cases$apart, cases$target, cases$share)
write(cbind(cases, as.data.frame(t(rows))), "funnel-dispersion.csv")
