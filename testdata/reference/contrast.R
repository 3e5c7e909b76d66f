# Random outcomes tables and what R's packages make of their groups. Sourced by live.R; on its own, with fixed seeds:
#   Rscript contrast.R FOLDER
# A case is an outcomes table as text, what is asked of it, and rows with the names of the CSV of holdfast contrast.
# A base of hips, operated on one day; days followed are multiples of 30, so that there are ties. With patients there are no deaths,
# since a patient's death is that of both hips; without, death competes.
if (!exists("made_with")) { here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE))); source(file.path(here, "common.R")); source(file.path(here, "models.R")) }

BEARINGS <- c("metal-on-polyethylene", "ceramic-on-polyethylene", "ceramic-on-ceramic"); FIXATIONS <- c("cemented", "porous", "hybrid"); YEAR <- 365.25
row_of <- function(item, value, group = "", against = "", years = NULL, estimand = "", se = NULL, lower = NULL, upper = NULL, df = NULL, p = NULL, within = "") {
  r <- list(item = one(item), group = one(group), against = one(against), estimand = one(estimand), within = one(within), value = one(as.numeric(value)))
  for (n in c("years", "se", "lower", "upper", "df", "p")) { x <- get(n); if (!is.null(x) && is.finite(x)) r[[n]] <- one(as.numeric(x)) }
  r
}

draw_hips <- function(n, patients) {
  d <- data.frame(bearing = factor(sample(BEARINGS, n, TRUE, c(.5, .3, .2)), BEARINGS), fixation = factor(sample(FIXATIONS, n, TRUE, c(.45, .35, .2)), FIXATIONS),
    sex = factor(sample(c("female", "male"), n, TRUE, c(.6, .4)), c("female", "male")), age = pmin(95, pmax(30, round(rnorm(n, 67, 10)))), patient = seq_len(n), side = "left")
  if (patients) { second <- sample(n, n / 5); first <- setdiff(seq_len(n), second); d$patient[second] <- sample(first, length(second)); d$side[second] <- "right"; d$sex[second] <- d$sex[d$patient[second]]; d$age[second] <- d$age[d$patient[second]] }
  frailty <- if (patients) rgamma(n, 2, 2)[d$patient] else 1
  rate <- .06 * frailty * exp(.5 * (d$bearing == BEARINGS[3]) + .2 * (d$fixation == "porous") - .02 * (d$age - 67))
  t1 <- 10 * (-log(runif(n)) / (10 * rate))^(1 / .8); t2 <- if (patients) Inf else 10 * (-log(runif(n)) / (.4 * exp(.07 * (d$age - 67))))^(1 / 1.2); tc <- runif(n, .5, 13)
  day <- 30 * ceiling(YEAR * pmin(t1, t2, tc) / 30); d$cause <- ifelse(t1 <= pmin(t2, tc), 1, ifelse(t2 <= tc, 2, 0)); d$day <- day; d
}

table_of <- function(d, patients) {
  start <- as.Date("2001-01-01"); end <- format(start + d$day)
  lines <- paste("2001-01-01,hip,total", d$side, d$bearing, d$fixation, d$sex, d$age, ifelse(d$cause == 1, end, ""), ifelse(d$cause == 2, end, ""), ifelse(d$cause == 0, end, ""), if (patients) paste0("P", d$patient) else "", sep = ",")
  paste(c("operation_date,joint,procedure,side,bearing,fixation,sex,age,revision_date,death_date,last_seen_date,patient", lines), collapse = "\n")
}

mover <- function(a, b) { d <- a[1] - b[1]; c(d, d - sqrt((a[1] - a[2])^2 + (b[3] - b[1])^2), d + sqrt((a[3] - a[1])^2 + (b[1] - b[2])^2)) }
km_at <- function(d, x) { s <- summary(survfit(Surv(day, cause == 1) ~ 1, d, conf.type = "log-log"), times = x); c(1 - s$surv, 1 - s$upper, 1 - s$lower, s$std.err) }
incidence_at <- function(d, x) {
  f <- survfit(Surv(day, factor(cause, 0:2)) ~ 1, d); s <- summary(f, times = x); p <- s$pstate[, 2]; se <- s$std.err[, 2]; u <- 1.959963984540054 * se / (p * log(p)); c(p, p^exp(-u), p^exp(u), se)
}

tests_rows <- function(d, competing) {
  L <- survdiff(Surv(day, cause == 1) ~ bearing, d); W <- survdiff(Surv(day, cause == 1) ~ bearing + strata(fixation, sex), d); strata <- "fixation,sex"; rows <- list()
  for (g in 1:3) rows <- c(rows, list(row_of("joints", L$n[g], BEARINGS[g]), row_of("revised", L$obs[g], BEARINGS[g]), row_of("observed", L$obs[g], BEARINGS[g]), row_of("expected", L$exp[g], BEARINGS[g]), row_of("expected within", rowSums(W$exp)[g], BEARINGS[g], within = strata)))
  p <- function(x) pchisq(x, 2, lower.tail = FALSE)
  rows <- c(rows, list(row_of("logrank", L$chisq, df = 2, p = p(L$chisq)), row_of("logrank within", W$chisq, df = 2, p = p(W$chisq), within = strata)))
  if (competing) {
    G <- cuminc(d$day, d$cause, d$bearing)$Tests["1", ]; S <- cuminc(d$day, d$cause, d$bearing, strata = interaction(d$fixation, d$sex))$Tests["1", ]
    rows <- c(rows, list(row_of("gray", G["stat"], df = 2, p = p(G["stat"])), row_of("gray within", S["stat"], df = 2, p = p(S["stat"]), within = strata)))
  }
  rows
}

difference_rows <- function(d, years, competing) {
  rows <- list(); of <- function(g) d[d$bearing == BEARINGS[g], ]
  for (y in years) for (g in 2:3) {
    x <- floor(YEAR * y); a <- km_at(of(g), x); b <- km_at(of(1), x); m <- mover(a, b)
    rows <- c(rows, list(row_of("difference", m[1], BEARINGS[g], BEARINGS[1], y, "1-KM", sqrt(a[4]^2 + b[4]^2), m[2], m[3])))
    if (competing) { a <- incidence_at(of(g), x); b <- incidence_at(of(1), x); m <- mover(a, b); rows <- c(rows, list(row_of("difference", m[1], BEARINGS[g], BEARINGS[1], y, "cumulative incidence", sqrt(a[4]^2 + b[4]^2), m[2], m[3]))) }
  }
  tau <- max(years); if (min(tapply(d$day, d$bearing, function(x) sum(x >= YEAR * tau))) < 10) return(rows) # too few for a restricted mean
  r <- sapply(1:3, function(g) summary(survfit(Surv(day, cause == 1) ~ 1, of(g)), rmean = YEAR * tau)$table[c("rmean", "se(rmean)")])
  for (g in 2:3) { v <- r[1, g] - r[1, 1]; se <- sqrt(r[2, g]^2 + r[2, 1]^2); rows <- c(rows, list(row_of("restricted mean difference", v, BEARINGS[g], BEARINGS[1], tau, "1-KM", se, v - 1.959963984540054 * se, v + 1.959963984540054 * se))) }
  rows
}

ratio_rows <- function(d, competing, patients) {
  common <- function(x) { t <- table(x); relevel(x, names(t)[which.max(t)]) }
  d$fixation <- common(d$fixation); d$sex <- common(d$sex); control <- coxph.control(eps = 1e-14, toler.chol = 1e-15, iter.max = 50); z <- 1.959963984540054; rows <- list()
  R <- suppressWarnings(coxph(Surv(day, cause == 1) ~ bearing + fixation + sex + I(age / 10), d, ties = "efron", control = control))
  covariate <- c(BEARINGS[2:3], paste0("fixation=", levels(d$fixation)[-1]), paste0("sex=", levels(d$sex)[-1]), "age per 10 years")
  against <- c(rep(BEARINGS[1], 2), rep(paste0("fixation=", levels(d$fixation)[1]), 2), paste0("sex=", levels(d$sex)[1]), "")
  ratios <- function(item, b, v, which) lapply(which, function(j) { se <- sqrt(v[j, j]); row_of(item, exp(b[j]), covariate[j], against[j], se = se, lower = exp(b[j] - z * se), upper = exp(b[j] + z * se), p = 2 * pnorm(-abs(b[j] / se))) })
  rows <- c(rows, ratios("hazard ratio", coef(R), R$var, 1:6), list(row_of("loglik", R$loglik[2], df = 6, p = pchisq(2 * diff(R$loglik), 6, lower.tail = FALSE))))
  if (patients) { C <- suppressWarnings(coxph(Surv(day, cause == 1) ~ bearing + fixation + sex + I(age / 10) + cluster(patient), d, ties = "efron", control = control)); rows <- c(rows, ratios("hazard ratio by patient", coef(C), C$var, 1:2)) }
  zph <- cox.zph(R)$table; terms <- c("bearing", "fixation", "sex", "age", "all")
  for (i in 1:5) rows <- c(rows, list(row_of("proportional", zph[i, 1], terms[i], df = zph[i, 2], p = zph[i, 3])))
  if (competing) { X <- model.matrix(~ bearing + fixation + sex + I(age / 10), d)[, -1]; fit <- function(...) crr(d$day, d$cause, X, variance = TRUE, ...); F <- to_the_last_digits(fit(gtol = 1e-12, maxiter = 50), fit); rows <- c(rows, ratios("subdistribution hazard ratio", F$coef, F$var, 1:2)) }
  rows
}

write_contrast <- function(folder, name, source, n, patients, note) {
  repeat { d <- draw_hips(n, patients); levels_ok <- all(sapply(c("bearing", "fixation", "sex"), function(v) min(tapply(d$cause == 1, d[[v]], sum)) >= 5)); followed <- min(tapply(d$day, d$bearing, function(x) sum(x >= 10 * YEAR))) > 0; if (sum(d$cause == 1) >= 60 && levels_ok && followed) break }
  years <- c(1, 3, 5, 10); competing <- !patients
  whole <- list(name = one(name), source = one(source), note = one(note), tolerance = one(1e-8), table = one(table_of(d, patients)), gray = one(competing), years = years,
    rows = c(tests_rows(d, competing), difference_rows(d, years, competing), ratio_rows(d, competing, patients)))
  text <- paste0("{\n", paste0("\"", names(whole), "\": ", vapply(whole, json, ""), collapse = ",\n"), "\n}\n")
  writeLines(gsub("(?<!\\\\)\n(?=2001-|\",)", "\\\\n", text, perl = TRUE), file.path(folder, paste0(name, ".json")), sep = "", useBytes = TRUE)
}

if (!interactive() && length(grep("contrast.R$", commandArgs())) > 0) {
  folder <- commandArgs(TRUE)[1]; set.seed(20241129, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
  for (patients in c(FALSE, TRUE)) write_contrast(folder, if (patients) "patients-320" else "deaths-320", made_with("contrast.R", "cmprsk"), 320, patients, "Ties on days that are multiples of 30.")
}
