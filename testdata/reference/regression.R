# Random samples in groups and with covariates, and what R's survival and cmprsk make of them. Rscript regression.R FOLDER
# The samples are drawn here (seed below) and written into the JSON; nothing else is read.
folder <- commandArgs(TRUE)[1]
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(), value = TRUE)))
source(file.path(here, "common.R"))
source(file.path(here, "models.R"))
set.seed(20130615, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
script <- made_with("regression.R", "cmprsk")
write <- function(name, case, note, ...) write_models(folder, name, script, case, note = note, ...)

write("groups-80", draw_models(80, 12, 2), "Three groups, two causes, heavy ties.")
write("groups-300", draw_models(300, 60, 3, groups = 4), "Four groups, three causes.")
write("late-entry-150", draw_models(150, 25, 2, late = TRUE), "At risk on (entry, exit]; entries fall on event days.")
write("weights-120", draw_models(120, 20, 2, weights = TRUE), "Sampling weights; robust variance.")
write("clusters-120", draw_models(120, 20, 2, clusters = TRUE), "Clusters; variance by cluster.")
write("weights-clusters-late-150", draw_models(150, 25, 2, TRUE, TRUE, TRUE), "Weights, clusters and late entry at once.")

case <- draw_models(90, 15, 2); case$s$exit <- case$s$exit + round(runif(90), 3)
write("no-ties-90", case, "Times that are no whole numbers, hardly any ties.")
case <- draw_models(100, 20, 2); early <- case$group == 1; case$s$cause[early & case$s$exit > 3] <- 0; case$s$exit[early] <- pmin(case$s$exit[early], 3)
write("group-ends-early-100", case, "Nobody of group 1 is followed after day 3.")

# Few events: Firth's likelihood. The last group has no event, so that the plain likelihood has no maximum.
few <- function(n, days, events) {
  case <- draw_models(n, days, 1); case$s$cause[] <- 0; case$s$cause[sample(which(case$group != 2), events)] <- 1; case
}
case <- few(70, 400, 7); tied <- case; tied$s$exit <- 100 * ceiling(case$s$exit / 100)
late <- case; late$s$entry <- floor(runif(70) * 0.5 * late$s$exit)
note <- "Seven events, none in group 2. Firth's likelihood by general-purpose optimisers: its estimates agree to 1e-6 only, limits to 1e-5."
write("firth-70", case, note, extra = list(firth_expect(case, 1, "efron", 1e-5)))
write("firth-tied-70", tied, note, extra = list(firth_expect(tied, 1, "efron", 1e-5), firth_expect(tied, 1, "breslow", 1e-5)))
write("firth-late-entry-70", late, note, extra = list(firth_expect(late, 1, "efron", 1e-5)))
