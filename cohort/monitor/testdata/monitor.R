# Chances of touching a line, a chart, and drawn ratios with R's own distributions, for the tests of this package.
#   Rscript --vanilla cohort/monitor/testdata/monitor.R cohort/monitor/testdata
# reads practice.csv in the folder and writes crossing.csv, joints.csv, chart.csv, units.csv and shrunk.csv there. Takes half a minute.
folder <- commandArgs(TRUE)[1]
made <- sprintf("# Calculated with monitor.R, %s", R.version.string)
write <- function(d, name) {
  file <- file.path(folder, name)
  writeLines(made, file)
  for (i in names(d)) d[[i]] <- sprintf("%.17g", d[[i]])
  suppressWarnings(write.table(d, file, append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))
}

# A chain simpler than that of the package: at most one revision in a step, always at the step's end. It errs in proportion
# to the step; two fine grids are extrapolated to step 0.
chain <- function(quarters, ratio, expected, truth, K) {
  D <- abs(log(ratio)) / K; dt <- D / abs(ratio - 1); N <- quarters * K / 4
  steps <- floor(expected / dt); part <- expected / dt - steps
  p <- c(1, numeric(N - 1)); hit <- 0
  if (ratio > 1) {
    none <- exp(-truth * dt); above <- (max(0, N - K) + 1):N
    for (i in seq_len(steps)) {
      p <- c(p[1] + p[2], p[-(1:2)], 0); jump <- p * (1 - none); p <- p * none
      if (K < N) p[(K + 1):N] <- p[(K + 1):N] + jump[1:(N - K)]
      hit <- hit + sum(jump[above])
    }
    p <- c(p[1] + p[2], p[-(1:2)], 0)
    hit + (1 - exp(-truth * dt * part)) * sum(p[above])
  } else {
    none <- exp(-truth * dt)
    for (i in seq_len(steps)) {
      hit <- hit + p[N] * none; jump <- p * (1 - none); p <- c(0, p[-N]) * none
      fallen <- c(sum(jump[1:min(N, K)]), if (N > K) jump[(K + 1):N])
      p[seq_along(fallen)] <- p[seq_along(fallen)] + fallen
    }
    hit
  }
}
extrapolated <- function(...) 2 * chain(..., K = 640) - chain(..., K = 320)
cases <- data.frame(
  ratio = c(2, 2, 2, 2, 2, 2, 2, 2, 1.5, 3, 0.5, 0.5, 0.5),
  quarters = c(12, 17, 21, 26, 31, 17, 21, 16, 14, 14, 16, 20, 12),
  expected = c(2, 5, 10, 20, 50, 5, 10, 10, 10, 10, 10, 20, 6),
  truth = c(1, 1, 1, 1, 1, 2, 3, 1, 1, 1, 1, 0.5, 1))
cases$chance <- mapply(extrapolated, cases$quarters, cases$ratio, cases$expected, cases$truth)
write(cases, "crossing.csv")

# Charts of two invented practices. The first, of practice.csv: 160 joints, 3 % expected by five years and 5 % by ten, H linear
# in between, closed on day 2922, the last third at more than the expected rate. The second: 150 joints, two hazards, the second
# known for four years; deaths; watched from day 600 through 2500.
chart <- function(j, H, last, from, through) {
  A <- function(day) sum(vapply(seq_len(nrow(j)), function(i) {
    h <- H[[j$hazard[i] + 1]]
    age <- function(s) max(0, min(s, j$exit[i], j$operation[i] + last[j$hazard[i] + 1]) - j$operation[i])
    h(age(day)) - h(age(from - 1))
  }, 0))
  counted <- j$revised == 1 & j$exit >= from & j$exit <= j$operation + last[j$hazard + 1]
  days <- sort(unique(c(j$exit[counted], through))); now <- 0; before <- 0; chart <- NULL
  for (d in days) {
    a <- A(d); now <- max(0, now - (a - before)) + sum(counted & j$exit == d) * log(2); before <- a
    chart <- rbind(chart, data.frame(day = d, observed = sum(counted & j$exit <= d), expected = a, sum = now,
                                     low = abs(qpois(0.025, a)), high = qpois(0.975, a)))
  }
  chart
}
one <- read.csv(file.path(folder, "practice.csv")); revised <- !is.na(one$revision)
one <- data.frame(practice = 1, row = one$joint + 1, operation = one$operation, exit = ifelse(revised, one$revision, 2922),
                  revised = as.integer(revised), hazard = 0)
points <- approxfun(c(0, 5, 10) * 365.25, -log(1 - c(0, 0.03, 0.05)), rule = 2)
first <- cbind(practice = 1, chart(one, list(points), Inf, min(one$operation), 2922))

set.seed(20080901, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
n <- 150
operation <- floor(runif(n, 0, 2400)); hazard <- sample(1:2, n, TRUE); u <- rexp(n) / ifelse(operation > 900, 4, 1)
revision <- operation + ceiling(ifelse(hazard == 1, 3652.5 * (u / 0.06)^(1 / 0.7), u / 0.02 * 365.25))
death <- operation + ceiling(rexp(n, 0.04 / 365.25))
two <- data.frame(practice = 2, row = seq_len(n) + 1, operation = operation, exit = pmin(revision, death, 2500),
                  revised = as.integer(revision <= pmin(death, 2500)), hazard = hazard - 1)
H <- list(function(d) 0.06 * (d / 3652.5)^0.7, function(d) 0.02 * d / 365.25)
second <- cbind(practice = 2, chart(two, H, c(Inf, 1461), 600, 2500))
write(rbind(one, two), "joints.csv")
write(rbind(first, second), "chart.csv")

# Ratios drawn towards one another: likelihood and Gamma quantiles of R on the grid that defines them; the most likely values by optim.
E <- c(0.4, 0.9, 1.5, 2.2, 2.8, 3.5, 4.1, 5, 6.3, 8, 11, 15)
O <- list(c(2, 0, 3, 1, 2, 9, 3, 4, 14, 6, 10, 13), c(0, 1, 2, 2, 3, 3, 4, 6, 6, 8, 10, 16), c(0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0),
          c(1, 0, 2, 1, 20, 2, 30, 1, 2, 60, 3, 4))
drawn <- function(O, E, level) {
  tau <- (1:80 - 0.5) / 80
  mu <- exp(log(max(0.5, sum(O)) / sum(E)) + seq(-4, 4, length.out = 81) * sqrt(1 / max(1, sum(O)) + 0.09))
  g <- expand.grid(tau = tau, mu = mu); a <- 1 / g$tau^2; r <- a / g$mu
  l <- rowSums(mapply(function(o, e) dnbinom(o, size = a, prob = r / (r + e), log = TRUE), O, E))
  w <- exp(l - max(l)); w <- w / sum(w)
  t(mapply(function(o, e) {
    at <- function(p) uniroot(function(x) sum(w * pgamma(x, a + o, r + e)) - p, c(1e-8, 60), tol = 1e-13)$root
    c(ratio = sum(w * (a + o) / (r + e)), lower = at((1 - level) / 2), upper = at((1 + level) / 2))
  }, O, E))
}
likeliest <- function(O, E) {
  ll <- function(z) { a <- exp(-z[2]); m <- exp(z[1]); -sum(dnbinom(O, size = a, mu = m * E, log = TRUE)) }
  z <- optim(c(log(sum(O) / sum(E)), -2), ll, method = "BFGS", control = list(reltol = 1e-16))
  z <- optim(z$par, ll, method = "Nelder-Mead", control = list(reltol = 1e-16, maxit = 5000))$par
  m <- sum(O) / sum(E)
  if (sum((O - m * E)^2) <= sum(O)) c(m, 0) else exp(z)
}
units <- shrunk <- NULL
for (i in seq_along(O)) {
  m <- likeliest(O[[i]], E)
  units <- rbind(units, data.frame(sample = i, mean = m[1], variance = m[2]))
  for (level in c(0.95, 0.8)) shrunk <- rbind(shrunk, data.frame(sample = i, level = level, observed = O[[i]], expected = E, drawn(O[[i]], E, level)))
}
write(units, "units.csv")
write(shrunk, "shrunk.csv")
