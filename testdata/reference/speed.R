# Seconds that coxph takes for the data of the benchmarks in survival/regress. Rscript speed.R ROWS
# Words of 8, 5, 2, 5, 4, 2 and 2 values, together 21 coefficients, and whole days up to 20 years. 5 million rows need 12 GB.
suppressPackageStartupMessages(library(survival))
n <- as.integer(as.numeric(commandArgs(TRUE)[1])); levels <- c(8, 5, 2, 5, 4, 2, 2)
set.seed(1)
d <- as.data.frame(lapply(levels, function(k) factor(sample.int(k, n, TRUE)))); names(d) <- paste0("word", seq_along(levels))
event <- 3652 * (rexp(n) / (.045 * exp(.1 * (d$word1 == 8))))^(1 / .75); end <- pmin(1 + 7299 * runif(n), 3652 * rexp(n) / .35)
d$day <- floor(pmin(event, end)); d$revised <- as.integer(event <= end); rm(event, end); invisible(gc())
seconds <- system.time(f <- coxph(Surv(day, revised) ~ word1 + word2 + word3 + word4 + word5 + word6 + word7, d))
cat(sprintf("%d rows, %d coefficients, %d events: %.1f s (%.1f s of processor time), %d iterations\n",
  n, length(coef(f)), sum(d$revised), seconds[["elapsed"]], seconds[["user.self"]] + seconds[["sys.self"]], f$iter))
