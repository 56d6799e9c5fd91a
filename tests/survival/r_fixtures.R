# Writes r_fixtures.json: outputs of R's package survival that the tests of this folder compare with.
# Run from this folder:  Rscript r_fixtures.R     (Debian: r-base-core r-cran-survival r-cran-jsonlite)
# The calls stand beside the numbers, in the JSON and in the tests. The default tests need no R.
library(survival)
library(jsonlite)
set.seed(20240311)

n <- 160
entry <- pmax(floor(runif(n, -900, 700)), 0)
life <- ceiling(1500 * rweibull(n, 2.2, 1) * ifelse(seq_len(n) %% 2 == 0, 1, 0.7))
end <- entry + ceiling(runif(n, 200, 1300))
seen <- life > entry
stress <- round(exp(rnorm(n, 0.2, 0.5)), 3)
lives <- data.frame(
  entry = entry, exit = pmin(life, end), failed = as.integer(life <= end),
  group = ifelse(seq_len(n) %% 2 == 0, "a", "b"), stress = stress, quantity = 1 + seq_len(n) %% 3
)[seen, ]

out <- list(version = as.character(packageVersion("survival")), lives = lives)

curve <- function(call, fit) {
  s <- summary(fit, times = fit$time[fit$n.event > 0], censored = FALSE)
  q <- quantile(fit, 0.5)
  list(call = call, time = s$time, n_risk = s$n.risk, n_event = s$n.event, surv = s$surv,
       lower = s$lower, upper = s$upper,
       median = unname(c(q$quantile, q$lower, q$upper)))
}
out$km_delayed_weighted <- curve(
  'survfit(Surv(entry, exit, failed) ~ 1, rep(lives, quantity), conf.type = "log-log")',
  survfit(Surv(entry, exit, failed) ~ 1, data = lives[rep(seq_len(nrow(lives)), lives$quantity), ],
          conf.type = "log-log"))

# Interval censoring with weights: a visit every 90 days sees the failure.
ends <- lives
ends$high <- ceiling(ends$exit / 90) * 90
ends$low <- ends$high - 90
ends$left <- ifelse(ends$failed == 1, pmax(ends$low, 0.0), ends$exit)
ends$right <- ifelse(ends$failed == 1, ends$high, NA)
ends$left2 <- ifelse(ends$left == 0, NA, ends$left)  # left censored, as survreg wants it
fit <- survreg(Surv(left2, right, type = "interval2") ~ 1, data = ends, weights = quantity,
               dist = "weibull", control = survreg.control(rel.tolerance = 1e-12, maxiter = 100))
out$interval_weighted <- list(
  call = 'survreg(Surv(left, right, type = "interval2") ~ 1, weights = quantity, dist = "weibull")',
  left = ends$left, right = ends$right, quantity = ends$quantity,
  shape = 1 / fit$scale, scale = unname(exp(coef(fit))), loglik = fit$loglik[1])

fit <- survreg(Surv(exit, failed) ~ log(stress) + group, data = lives, dist = "weibull",
               control = survreg.control(rel.tolerance = 1e-12, maxiter = 100))
out$stress_regression <- list(
  call = 'survreg(Surv(exit, failed) ~ log(stress) + group, dist = "weibull")',
  coef = unname(coef(fit)), scale = fit$scale, se = unname(sqrt(diag(vcov(fit)))), loglik = fit$loglik[2])
# Cox-Snell residuals of that fit: (exit / exp(linear predictor))^(1 / scale)
out$stress_regression$cox_snell <- unname((lives$exit / exp(predict(fit, type = "lp")))^(1 / fit$scale))

# One Weibull shape for both groups against a shape each, scales free: survreg with and without strata().
one <- survreg(Surv(exit, failed) ~ group, data = lives, dist = "weibull")
each <- survreg(Surv(exit, failed) ~ group + strata(group), data = lives, dist = "weibull")
out$shape_by_group <- list(
  call = 'survreg(Surv(exit, failed) ~ group + strata(group)) against survreg(Surv(exit, failed) ~ group)',
  statistic = 2 * (each$loglik[2] - one$loglik[2]), shapes = unname(1 / each$scale))

write(toJSON(out, digits = 14, auto_unbox = TRUE, na = "null"), "r_fixtures.json")
