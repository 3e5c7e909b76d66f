# Cases from data sets of the installation and from fresh random samples. Rscript live.R FOLDER [SEED]
# The format is that of testdata/README.md. The data sets are read where R keeps them and are not kept here.
# The seed is printed and stands in the random cases' notes; give it again to make the same samples.
arguments <- commandArgs(TRUE)
folder <- arguments[1]
stopifnot(!is.na(folder), dir.exists(folder))
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE)))
source(file.path(here, "common.R"))
source(file.path(here, "models.R"))
seed <- if (length(arguments) > 1) as.integer(arguments[2]) else as.integer(as.numeric(Sys.time()) %% 2^31)
cat("seed", seed, "\n")
set.seed(seed, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
script <- made_with("live.R", "etm", "KMsurv")

from <- function(name, package) { place <- new.env(); data(list = name, package = package, envir = place); get(name, envir = place) }
all_causes <- function(f, causes) lapply(seq_len(causes), f)
one_cause <- function(name, note, exit, event, entry = NULL, weight = NULL, cluster = NULL) {
  s <- list(exit = as.numeric(exit), cause = as.integer(event), entry = entry, weight = weight, cluster = cluster)
  s <- s[!vapply(s, is.null, TRUE)]; tau <- as.numeric(quantile(s$exit, c(0.4, 0.9)))
  expect <- list(km_expect(s, 1, c(0.25, 0.5), tau), na_expect(s))
  if (is.null(entry)) expect <- c(expect, list(aj_expect(s, 1, 1, tau)))
  write_case(folder, name, script, s, 1, expect, note = note)
}
competing <- function(name, note, exit, cause, entry = NULL, weight = NULL, cluster = NULL) {
  s <- list(exit = as.numeric(exit), cause = as.integer(cause), entry = entry, weight = weight, cluster = cluster)
  s <- s[!vapply(s, is.null, TRUE)]; causes <- max(s$cause); tau <- as.numeric(quantile(s$exit, c(0.4, 0.9)))
  incidence <- if (is.null(entry) || is_robust(s)) all_causes(function(k) aj_expect(s, causes, k, tau), causes) else {
    fit <- etm_curve(s, causes); all_causes(function(k) etm_expect(s, causes, k, tau, fit), causes)
  }
  write_case(folder, name, script, s, causes, c(list(km_expect(s, 1, NULL, tau), na_expect(s)), incidence), note = note)
}

# One cause
x <- from("kidney", "KMsurv"); for (g in 1:2) { y <- x[x$type == g, ]; one_cause(paste0("kidney-", g), "KMsurv kidney, by type", y$time, y$delta) }
x <- from("larynx", "KMsurv"); one_cause("larynx", "KMsurv larynx", x$time, x$delta)
x <- from("tongue", "KMsurv"); one_cause("tongue", "KMsurv tongue", x$time, x$delta)
x <- from("kidtran", "KMsurv"); one_cause("kidtran", "KMsurv kidtran", x$time, x$delta)
x <- from("std", "KMsurv"); one_cause("std", "KMsurv std", x$time, x$rinfct)
x <- from("bfeed", "KMsurv"); one_cause("bfeed", "KMsurv bfeed: whole weeks, heavy ties", x$duration, x$delta)
one_cause("lung", "survival lung", lung$time, lung$status == 2)
for (g in levels(veteran$celltype)) { y <- veteran[veteran$celltype == g, ]; one_cause(paste0("veteran-", g), "survival veteran, by cell type", y$time, y$status) }
one_cause("ovarian", "survival ovarian", ovarian$futime, ovarian$fustat)

# Late entry
x <- from("channing", "KMsurv"); x <- x[x$ageentry < x$age, ]
for (g in 1:2) { y <- x[x$gender == g, ]
  one_cause(paste0("channing-", g), "KMsurv channing, by gender, age in months; few at risk at the youngest ages", y$age, y$death, as.numeric(y$ageentry)) }
x <- from("psych", "KMsurv"); one_cause("psych", "KMsurv psych, age in years", x$age + x$time, x$death, as.numeric(x$age))
x <- from("abortion", "etm")
for (g in 0:1) { y <- x[x$group == g, ]; competing(paste0("abortion-", g), "etm abortion, by group; incidence and variance from etm", y$exit, y$cause, y$entry) }

# Competing causes
x <- from("bmt", "KMsurv"); for (g in 1:3) { y <- x[x$group == g, ]
  competing(paste0("bmt-", g), "KMsurv bmt, by group: 1 relapse, 2 death in remission", y$t2, ifelse(y$d2 == 1, 1, ifelse(y$d1 == 1, 2, 0))) }
competing("mgus2", "survival mgus2: 1 plasma cell malignancy, 2 death", ifelse(mgus2$pstat == 1, mgus2$ptime, mgus2$futime),
  ifelse(mgus2$pstat == 1, 1, ifelse(mgus2$death == 1, 2, 0)))
competing("pbc", "survival pbc: 1 transplant, 2 death", pbc$time, pbc$status)
x <- transplant[!is.na(transplant$futime) & transplant$futime > 0, ]
competing("transplant", "survival transplant: 1 death, 2 transplant, 3 withdrawn", x$futime, as.integer(x$event) - 1L)

# Clusters and weights
x <- survival::kidney; one_cause("catheters-clusters", "survival kidney, two rows a patient", x$time, x$status, cluster = as.numeric(x$id))
x <- retinopathy; one_cause("retinopathy-clusters", "survival retinopathy, two eyes a patient", x$futime, x$status, cluster = as.numeric(x$id))
x <- mgus2[mgus2$sex == "F", ]
competing("mgus2-weights", paste("survival mgus2, women, random weights, seed", seed), ifelse(x$pstat == 1, x$ptime, x$futime),
  ifelse(x$pstat == 1, 1, ifelse(x$death == 1, 2, 0)), weight = round(runif(nrow(x), 0.2, 5), 2))

# Random samples with heavy ties. Two rows are still at risk at the end, so that no curve reaches 1 there.
draw <- function(n, days, causes, late) {
  exit <- sample(seq_len(days), n, TRUE); cause <- sample(0:causes, n, TRUE, prob = c(2, rep(1, causes)))
  exit[1:2] <- days; cause[1:2] <- 0
  entry <- if (late) ifelse(runif(n) < 0.6, 0, floor(runif(n) * exit))
  list(exit = exit, cause = cause, entry = entry)
}
note <- paste("random, seed", seed)
for (i in 1:3) {
  n <- sample(40:400, 1); days <- sample(8:60, 1); name <- function(kind) paste0("random-", kind, "-", i)
  s <- draw(n, days, 1, FALSE); one_cause(name("one-cause"), note, s$exit, s$cause)
  s <- draw(n, days, 1, TRUE); one_cause(name("late-entry"), note, s$exit, s$cause, s$entry)
  s <- draw(n, days, 3, FALSE); competing(name("causes"), note, s$exit, s$cause)
  s <- draw(n, days, 2, TRUE); competing(name("causes-late-entry"), note, s$exit, s$cause, s$entry)
  weight <- round(runif(n, 0.2, 5), 2); cluster <- sample(ceiling(n / 2), n, TRUE)
  s <- draw(n, days, 2, FALSE)
  competing(name("weights"), note, s$exit, s$cause, weight = weight)
  competing(name("clusters"), note, s$exit, s$cause, cluster = cluster)
  competing(name("weights-clusters"), note, s$exit, s$cause, weight = weight, cluster = cluster)
  s <- draw(n, days, 2, TRUE); competing(name("weights-late-entry"), note, s$exit, s$cause, s$entry, weight = weight)
}

# Tests between groups and regression models
models <- file.path(folder, "regression"); dir.create(models, showWarnings = FALSE)
script <- made_with("live.R", "cmprsk", "KMsurv")
grouped <- function(name, note, exit, cause, group, x, stratum = NULL, ...) {
  s <- list(exit = as.numeric(exit), cause = as.integer(cause), ...)
  s <- lapply(s, as.vector); group <- as.integer(factor(group)) - 1L
  case <- list(s = s, group = group, stratum = if (is.null(stratum)) rep(0:1, length.out = length(group)) else as.integer(factor(stratum)) - 1L, x = as.matrix(x))
  write_models(models, name, script, case, note = note)
}
x <- veteran; grouped("veteran", "survival veteran, by cell type", x$time, x$status, x$celltype, cbind(karno = x$karno, age = x$age, trt = x$trt), x$prior)
x <- lung[!is.na(lung$ph.ecog), ]; grouped("lung", "survival lung, by ECOG score", x$time, x$status - 1, pmin(x$ph.ecog, 2), cbind(age = x$age, sex = x$sex, ecog = x$ph.ecog), x$sex)
x <- from("larynx", "KMsurv"); grouped("larynx", "KMsurv larynx, by stage", x$time, x$delta, x$stage, cbind(stage = x$stage, age = x$age), x$age > 65)
x <- from("bmt", "KMsurv"); grouped("bmt", "KMsurv bmt, by group: 1 relapse, 2 death in remission", x$t2, ifelse(x$d2 == 1, 1, ifelse(x$d1 == 1, 2, 0)), x$group,
  cbind(low = x$group == 2, high = x$group == 3, age = x$z1, donor = x$z2) + 0, x$z10)
x <- from("kidtran", "KMsurv"); grouped("kidtran", "KMsurv kidtran, by sex and race", x$time, x$delta, paste(x$gender, x$race), cbind(gender = x$gender, race = x$race, age = x$age), x$age > 45)
x <- from("channing", "KMsurv"); x <- x[x$ageentry < x$age, ]
grouped("channing", "KMsurv channing, age in months, late entry", x$age, x$death, x$gender, cbind(gender = x$gender, entry = (x$ageentry - 900) / 100), entry = x$ageentry)
x <- survival::kidney; grouped("catheters", "survival kidney, two rows a patient", x$time, x$status, x$sex, cbind(age = x$age, sex = x$sex), x$disease, cluster = x$id)
x <- retinopathy; grouped("retinopathy", "survival retinopathy, two eyes a patient", x$futime, x$status, x$type, cbind(trt = x$trt, adult = x$type == "adult", score = x$risk), x$laser, cluster = as.numeric(x$id))
x <- mgus2[!is.na(mgus2$mspike) & mgus2$futime > 0, ]
grouped("mgus2", "survival mgus2, 1 plasma cell malignancy, 2 death", ifelse(x$pstat == 1, x$ptime, x$futime), ifelse(x$pstat == 1, 1, ifelse(x$death == 1, 2, 0)), x$sex,
  cbind(age = x$age, female = x$sex == "F", spike = x$mspike), x$age > 70)
for (i in 1:12) {
  n <- sample(40:250, 1); late <- i %% 3 == 0; name <- paste0("random-", i)
  write_models(models, name, script, draw_models(n, sample(5:40, 1), sample(2:3, 1), late, i %% 2 == 0, i %% 4 < 2, sample(2:5, 1)), note = note)
}

# Groups of whole outcomes tables
source(file.path(here, "contrast.R"))
contrasts <- file.path(folder, "contrast"); dir.create(contrasts, showWarnings = FALSE)
for (i in 1:8) write_contrast(contrasts, paste0("random-", i), made_with("live.R", "cmprsk"), sample(250:500, 1), i %% 2 == 0, note)
cat(length(list.files(folder, "\\.json$", recursive = TRUE)), "cases\n")
