# Exact limits of counts and proportions, and limits of differences. Rscript counts.R FOLDER
# Writes counts.json; its own format is described in testdata/README.md. "printed" is what the named source prints.
folder <- commandArgs(TRUE)[1]
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE)))
source(file.path(here, "..", "reference", "common.R"))

# Newton steps on the distribution function, so that the quantile is good to the last digits.
polish <- function(x, p, cdf, density) {
  if (x <= 0 || x >= Inf) return(x)
  for (i in 1:20) {
    step <- if (p < 0.5) (cdf(x, TRUE) - p) / density(x) else ((1 - p) - cdf(x, FALSE)) / density(x)
    if (!is.finite(step) || abs(step) < 1e-16 * x) break
    x <- x - step
  }
  x
}
gamma_quantile <- function(p, shape) polish(qgamma(p, shape), p, function(x, low) pgamma(x, shape, lower.tail = low), function(x) dgamma(x, shape))
poisson_limits <- function(o, level) {
  a <- (1 - level) / 2
  c(if (o == 0) 0 else gamma_quantile(a, o), gamma_quantile(1 - a, o + 1))
}
clopper_pearson <- function(x, n, level = 0.95) {
  a <- (1 - level) / 2
  c(if (x == 0) 0 else beta_quantile(a, x, n - x + 1), if (x == n) 1 else beta_quantile(1 - a, x + 1, n - x))
}
wilson <- function(x, n, level = 0.95) {
  z <- qnorm(1 - (1 - level) / 2); p <- x / n
  h <- z * sqrt(p * (1 - p) / n + z^2 / (4 * n^2))
  limits <- (p + z^2 / (2 * n) + c(-h, h)) / (1 + z^2 / n)
  c(if (x == 0) 0 else limits[1], if (x == n) 1 else limits[2])
}
mover <- function(p, l, P, L) c(p - P - sqrt((p - l[1])^2 + (L[2] - P)^2), p - P + sqrt((l[2] - p)^2 + (P - L[1])^2))

printed <- function(x, values, source) if (is.null(values)) x else c(x, list(printed = values, printed_source = source))
# Garwood, Biometrika 1936;28:437: gamma quantiles.
poisson <- lapply(list(c(0, 0.95), c(1, 0.95), c(2, 0.95), c(3, 0.95), c(5, 0.95), c(10, 0.95), c(20, 0.95), c(50, 0.95), c(100, 0.95),
  c(1000, 0.95), c(12345, 0.95), c(0, 0.998), c(10, 0.998), c(3, 0.9), c(7, 0.99)), function(x) {
  l <- poisson_limits(x[1], x[2])
  list(observed = x[1], level = x[2], lower = l[1], upper = l[2])
})
newcombe <- "Newcombe, Stat Med 1998;17:857, table I, method 3 (Wilson), seen as quoted in several public test suites"
proportion <- lapply(list(list(81, 263, c(0.2553, 0.3662)), list(15, 148, c(0.0624, 0.1605)), list(0, 20, c(0, 0.1611)),
  list(1, 29, c(0.0061, 0.1718)), list(3, 20), list(17, 20), list(20, 20), list(0, 1), list(1, 1), list(1, 1), list(4, 500), list(250, 5000)),
  function(x) printed(list(events = x[[1]], n = x[[2]], level = 0.95, clopper_pearson = clopper_pearson(x[[1]], x[[2]]),
                           wilson = wilson(x[[1]], x[[2]])), if (length(x) > 2) x[[3]], newcombe))
no_event <- lapply(c(1, 5, 10, 20, 50, 100, 1000), function(y) list(at_risk = y, level = 0.95, upper = -expm1(log(0.025) / y)))
table2 <- "Newcombe, Stat Med 1998;17:873, table II, method 10, seen as quoted in several public test suites"
difference <- c(
  list(list(own = list(estimate = 8, lower = 4.5, upper = 14), published = list(estimate = 5, lower = 4.7, upper = 5.3),
            lower = mover(8, c(4.5, 14), 5, c(4.7, 5.3))[1], upper = mover(8, c(4.5, 14), 5, c(4.7, 5.3))[2])),
  list(list(own = list(estimate = 8, lower = 4.5, upper = 14), published = list(estimate = 5, lower = 5, upper = 5), lower = -0.5, upper = 9)),
  lapply(list(list(56, 70, 48, 80, c(0.0524, 0.3339)), list(9, 10, 3, 10, c(0.1705, 0.8090)), list(6, 7, 2, 7, c(0.0582, 0.8062)),
    list(5, 56, 0, 29, c(-0.0381, 0.1926)), list(0, 10, 0, 20, c(-0.1611, 0.2775)), list(0, 10, 0, 10, c(-0.2775, 0.2775)),
    list(10, 10, 0, 20, c(0.6791, 1.0000))), function(x) {
    w <- wilson(x[[1]], x[[2]]); W <- wilson(x[[3]], x[[4]]); p <- x[[1]] / x[[2]]; P <- x[[3]] / x[[4]]; d <- mover(p, w, P, W)
    printed(list(own = list(estimate = p, lower = w[1], upper = w[2]), published = list(estimate = P, lower = W[1], upper = W[2]),
                 lower = d[1], upper = d[2]), x[[5]], table2)
  }))
# Cumulative hazard of a published series with points 3 % at 5 years and 5 % at 10, linear between points from the origin.
h <- -log1p(-c(0.03, 0.05))
hazard <- list(list(years = 2, value = h[1] * 2 / 5), list(years = 5, value = h[1]), list(years = 7.5, value = (h[1] + h[2]) / 2),
               list(years = 10, value = h[2]), list(years = 14, value = h[2]))
# Rate per 100 implant-years with exact limits, and the incidence that a constant rate of 1.29 means at ten years.
rate <- lapply(list(c(5, 621.5), c(0, 48), c(33, 5000)), function(x) {
  l <- 100 * poisson_limits(x[1], 0.95) / x[2]
  list(revised = x[1], implant_years = x[2], level = 0.95, rate_per_100 = 100 * x[1] / x[2], lower = l[1], upper = l[2])
})
few <- lapply(c(0.01, 0.044, 0.05), function(p) list(published = p, level = 0.95, at_risk = ceiling(log(0.025) / log1p(-p))))

block <- function(name, xs) paste0("  \"", name, "\": [\n    ", paste(vapply(xs, object, ""), collapse = ",\n    "), "\n  ]")
text <- paste0("{\n  \"source\": ", string(paste0("calculated with testdata/published/counts.R, ", sub(" \\(.*", "", sub("version ", "", R.version.string)))),
  ",\n", paste(block("poisson", poisson), block("proportion", unique(proportion)), block("no_event", no_event), block("difference", difference),
  block("cumulative_hazard", hazard), block("rate", rate), block("fewest_at_risk", few), sep = ",\n"),
  ",\n  \"tolerance\": 1e-12,\n  \"note\": \"Calculated values are relative to the tolerance; printed ones are rounded, good to half their last digit.\"\n}\n")
writeLines(text, file.path(folder, "counts.json"), sep = "")
