# Incidence by cause and group, its variance and Gray's test, by cmprsk:
#   python -c "import tests.life.test_causes_by_group as t; t.write_lives('FOLDER')"
#   Rscript make_causes_by_group.R FOLDER > causes_by_group.json
# Each FOLDER/NAME.csv has a row a subject: time, cause (0 = censored) and group.
suppressMessages({library(cmprsk); library(jsonlite)})
folder <- commandArgs(TRUE)[1]
results <- list(
  source = paste("Data: Scrucca, Santucci and Aversa, Bone Marrow Transplant 2007 (bmt), and chronic graft-versus-host disease,",
                 "Pintilie, Competing Risks, Wiley 2006 (cgvhd, years made whole months), both as scikit-survival carries them; made-up rows (ties)."),
  coding = "curves are named 'group cause'; incidence and variance (cmprsk's own) at every time of the data, carried forward",
  made_with = paste0(R.version.string, ", cmprsk ", packageVersion("cmprsk")))
for (name in sub("\\.csv$", "", list.files(folder, "\\.csv$"))) {
  lives <- read.csv(file.path(folder, paste0(name, ".csv")))
  times <- sort(unique(lives$time))
  found <- cuminc(lives$time, lives$cause, lives$group)
  curves <- timepoints(found[names(found) != "Tests"], times)
  rows <- function(table) {                      # NA after the last of a group: nothing rises there any more
    table <- t(apply(table, 1, function(row) { for (i in seq_along(row)[-1]) if (is.na(row[i])) row[i] <- row[i - 1]; row }))
    setNames(lapply(seq_len(nrow(table)), function(i) unname(table[i, ])), rownames(table)) }
  results[[name]] <- list(times = times, incidence = rows(curves$est), variance = rows(curves$var),
    gray = setNames(lapply(rownames(found$Tests), function(cause) as.list(setNames(found$Tests[cause, c("stat", "df", "pv")], c("chi2", "dof", "p")))), rownames(found$Tests)))
}
cat(toJSON(results, digits = I(15), auto_unbox = TRUE, pretty = TRUE), "\n")
