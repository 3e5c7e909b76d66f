# Random samples with heavy ties and their reference values. Rscript random.R FOLDER
# The samples are drawn here (seed below) and written into the JSON; nothing else is read.
folder <- commandArgs(TRUE)[1]
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE)))
source(file.path(here, "common.R"))
set.seed(20030417, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
script <- made_with("random.R", "etm")

draw <- function(n, days, causes, censored, late = FALSE) {
  exit <- sample(seq_len(days), n, TRUE, prob = seq(1.5, 0.5, length.out = days))
  cause <- sample(0:causes, n, TRUE, prob = c(censored, rep((1 - censored) / causes, causes)))
  exit[1:2] <- days; cause[1:2] <- 0 # somebody is still at risk at the end
  s <- list(exit = exit, cause = cause)
  # Half enter on day 0, the others on a day before they leave; entries fall on event days.
  if (late) s$entry <- ifelse(runif(n) < 0.5, 0, floor(runif(n) * exit))
  s
}
all_causes <- function(f, causes, ...) lapply(seq_len(causes), function(k) f(k, ...))

for (x in list(c(30, 12), c(200, 40))) {
  s <- draw(x[1], x[2], 1, 0.5); tau <- c(x[2] / 2, x[2] - 0.5)
  write_case(folder, sprintf("right-censored-%d", x[1]), script, s, 1,
    list(km_expect(s, 1, c(0.25, 0.5), tau), aj_expect(s, 1, 1, tau), na_expect(s)), note = "One cause, heavy ties.")
}

s <- list(exit = 1:10, cause = c(1, 2, 0, 1, 2, 0, 1, 0, 2, 0))
write_case(folder, "ten-hips", script, s, 2, c(list(km_expect(s, 1, NULL, 8)), all_causes(function(k) aj_expect(s, 2, k, 8), 2)),
  note = "1 revision, 2 death; no ties. Fractions: testdata/hand/ten-hips.json.")
s <- list(exit = c(1, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6), cause = c(1, 2, 0, 1, 1, 2, 0, 1, 2, 1, 0, 1))
write_case(folder, "ties-between-causes", script, s, 2, c(list(km_expect(s, 1, NULL, 6)), all_causes(function(k) aj_expect(s, 2, k, 6), 2)),
  note = "Fractions: testdata/hand/ties-between-causes.json.")

s <- list(exit = c(2, 2, 4, 4, 4, 7, 7, 9, 9, 12, 12, 15, 15, 15, 15, 15), cause = c(1, 1, 1, 1, 0, 1, 1, 1, 0, 1, 1, 0, 0, 0, 0, 0))
s$exit <- c(s$exit, 1, 1, 1, 1); s$cause <- c(s$cause, 1, 1, 1, 1) # S = 4/5 from day 1, 7/10 from day 2, 3/5 from day 4
write_case(folder, "quantiles-flat", script, s, 1, list(km_expect(s, 1, c(0.2, 0.3, 0.4, 0.45, 0.5), 14)),
  note = "S equals 4/5, 7/10 and 3/5 on whole stretches: the quantiles 0.2, 0.3 and 0.4 are their middles. Limits from the log-log curves.")

# No limits for the quantiles here: they depend on what is said before the first event and after the last.
s <- list(exit = c(3, 3, 5, 5, 5, 8, 8, 8, 10, 10), cause = c(1, 0, 1, 1, 0, 1, 0, 1, 1, 1))
write_case(folder, "ends-in-zero", script, s, 1, list(km_expect(s, 1, c(0.25, 0.5, 0.75), c(6, 10), failed = TRUE), na_expect(s)),
  note = "The last rows fail together, S ends at 0: the limits there are the beta product's. R states no error there.")

s <- list(exit = c(0, 0, 0, 0.5, 1.25, 1.25, 2.75, 2.75, 3.125, 4, 4, 4, 5.5, 6, 6), cause = c(1, 2, 0, 1, 2, 1, 1, 0, 2, 1, 0, 2, 0, 1, 0))
write_case(folder, "fractional-times-from-zero", script, s, 2,
  c(all_causes(function(k) km_expect(s, k, NULL, 5), 2), all_causes(function(k) aj_expect(s, 2, k, 5), 2), list(na_expect(s))),
  note = "Times that are no whole numbers; events of both causes at time 0.")

for (x in list(c(60, 20, 2), c(300, 60, 2), c(60, 15, 3), c(300, 40, 3))) {
  n <- x[1]; causes <- x[3]; s <- draw(n, x[2], causes, 0.45); tau <- c(x[2] / 2, x[2] - 0.5)
  write_case(folder, sprintf("causes-%d-rows-%d", causes, n), script, s, causes,
    c(list(km_expect(s, 1, 0.25, tau)), all_causes(function(k) aj_expect(s, causes, k, tau), causes), list(na_expect(s, 2))),
    note = "Competing causes, ties between causes and with censoring.")
}

for (n in c(60, 250)) {
  days <- n / 5; s <- draw(n, days, 1, 0.4, late = TRUE); tau <- c(days / 2, days - 0.5)
  write_case(folder, sprintf("late-entry-%d", n), script, s, 1, list(km_expect(s, 1, c(0.25, 0.5), tau), na_expect(s)),
    note = "At risk on (entry, exit]; entries fall on event days.")
  s <- draw(n, days, 2, 0.4, late = TRUE)
  write_case(folder, sprintf("late-entry-causes-2-rows-%d", n), script, s, 2,
    c(list(km_expect(s, 1, 0.25, tau)), all_causes(function(k) etm_expect(s, 2, k, tau), 2)),
    note = "The incidence and its variance are etm's; the error of the area is the delta method of common.R.")
}

for (kind in c("weights", "clusters", "weights-and-clusters")) for (n in c(40, 150)) {
  days <- ceiling(n / 4); s <- draw(n, days, 2, 0.4); tau <- c(days / 2, days - 0.5)
  if (kind != "clusters") s$weight <- round(runif(n, 0.25, 4), 2)
  if (kind != "weights") s$cluster <- sample(ceiling(n / 2), n, TRUE)
  write_case(folder, sprintf("%s-%d", kind, n), script, s, 2,
    c(list(km_expect(s, 1, 0.25, tau)), all_causes(function(k) aj_expect(s, 2, k, tau), 2), list(na_expect(s))),
    note = "Infinitesimal jackknife, grouped by cluster where there are clusters.")
}

s <- draw(80, 20, 2, 0.4, late = TRUE); s$weight <- round(runif(80, 0.25, 4), 2)
write_case(folder, "weights-and-late-entry-80", script, s, 2,
  c(list(km_expect(s, 1, 0.25, 15)), all_causes(function(k) aj_expect(s, 2, k, 15), 2)),
  note = "Sampling weights and late entry; infinitesimal jackknife.")

# Aalen-type errors of cmprsk, which are another formula: estimates agree, errors differ.
other <- file.path(folder, "other-variance"); dir.create(other, showWarnings = FALSE)
for (x in list(c(30, 10, 2), c(300, 40, 3))) {
  causes <- x[3]; s <- draw(x[1], x[2], causes, 0.45); c0 <- counts(s, causes)
  fit <- cmprsk::timepoints(cmprsk::cuminc(s$exit, s$cause), c0$days); apart <- 0
  expect <- all_causes(function(k) {
    row <- grep(paste0(" ", k, "$"), rownames(fit$est)); F <- fit$est[row, ]; se <- sqrt(fit$var[row, ])
    ours <- sqrt(delta_method(s, causes, k)$variance); ok <- ours > 0; apart <<- max(apart, abs(se[ok] / ours[ok] - 1))
    list(estimand = "cumulative-incidence", cause = k, variance = "aalen", points = lapply(seq_along(F), function(j)
      list(time = c0$days[j], at_risk = c0$n[j], events = c0$d[j, k], estimate = unname(F[j]), se = unname(se[j]))))
  }, causes)
  write_case(other, sprintf("aalen-type-%d", x[1]), made_with("random.R", "cmprsk"), s, causes, expect,
    note = sprintf("Estimates to the tolerance. The errors are another formula and differ from the Greenwood-type ones by up to %.1f %% of these.", 100 * apart))
}
