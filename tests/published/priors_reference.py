"""Prints the values that priors_distributions.cpp, priors_pooling.cpp, priors_wear_out.cpp,
priors_life_plot.cpp and priors_recurrence.cpp hold the library to, from SciPy, lifelines, reliability and surpyval:

    pip install scipy==1.17.1 lifelines==0.30.3 reliability==0.9.0 surpyval==0.25
    python3 tests/published/priors_reference.py

It reads nothing of faultodds. Tests state the digits to which they agree."""

import contextlib
import importlib.metadata
import io
import warnings

import numpy
from scipy import optimize, special, stats

warnings.filterwarnings("ignore")
numpy.set_printoptions(precision=13)


def show(name, *values):
    print(f"{name:44}", *(f"{float(value):.13g}" for value in values))


def version(package):
    print(f"\n{package} {importlib.metadata.version(package)}")


def maximum(log_likelihood, start):
    """Where a function of positive parameters is largest, and its value there."""
    # Nelder-Mead finds the place to about the root of the rounding of the function; a last step solves
    # for a gradient of 0, taken by central differences of five points.
    found = optimize.minimize(lambda logs: -log_likelihood(*numpy.exp(logs)), numpy.log(start),
                              method="Nelder-Mead",
                              options={"xatol": 1e-13, "fatol": 1e-13, "maxiter": 100000})

    def gradient(logs):
        result = []
        for i in range(len(logs)):
            step = numpy.zeros(len(logs))
            step[i] = 1e-3
            at = [log_likelihood(*numpy.exp(logs + k * step)) for k in (-2, -1, 1, 2)]
            result.append((at[0] - 8 * at[1] + 8 * at[2] - at[3]) / 12e-3)
        return result

    logs = optimize.root(gradient, found.x, tol=1e-13).x
    return (*numpy.exp(logs), log_likelihood(*numpy.exp(logs)))


version("scipy")
for a, b in [(0.5, 0.5), (1.5, 7.5), (5.2, 160.1), (0.436, 353), (5.5, 44800), (0.01, 3), (250, 2000),
             (0.5, 1e6)]:
    show(f"beta({a:g}, {b:g}) quantiles", *stats.beta.ppf([0.05, 0.5, 0.95], a, b))
for a, b in [(0.5, 1), (3.53, 19.83), (58.5, 806745000), (3.5, 9165160), (0.01, 1), (1e4, 2),
             (1.3, 0.2)]:
    show(f"gamma({a:g}, rate {b:g}) quantiles", *stats.gamma.ppf([0.05, 0.5, 0.95], a, scale=1 / b))

# Gaver & O'Muircheartaigh 1987: failures of ten pumps, thousands of hours each.
failures = numpy.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22])
hours = numpy.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def pumps(alpha, beta):
    return numpy.sum(special.gammaln(alpha + failures) - special.gammaln(alpha) -
                     special.gammaln(failures + 1) + alpha * numpy.log(beta) +
                     failures * numpy.log(hours) - (alpha + failures) * numpy.log(beta + hours))


alpha, beta, log_likelihood = maximum(pumps, [1, 1])
show("ten pumps: alpha, beta, log likelihood", alpha, beta, log_likelihood)
show("ten pumps: posterior means", *((alpha + failures) / (beta + hours)))

# Deaths after operations in twelve hospitals (the "surgical" example distributed with BUGS).
deaths = numpy.array([0, 18, 8, 46, 8, 13, 9, 31, 14, 8, 29, 24])
operations = numpy.array([47, 148, 119, 810, 211, 196, 148, 215, 207, 97, 256, 360])
alpha, beta, log_likelihood = maximum(
    lambda a, b: numpy.sum(stats.betabinom.logpmf(deaths, operations, a, b)), [5, 50])
show("hospitals: alpha, beta, log likelihood", alpha, beta, log_likelihood)
show("hospitals: posterior means", *((alpha + deaths) / (alpha + beta + operations)))

# NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units still running at 500 h.
nist = numpy.array([54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, float)
failed = numpy.array([1] * 10 + [0] * 10)
entry = numpy.array([0, 100, 150, 0, 200, 0, 300, 0, 0, 100] + [0] * 5 + [400] * 5, float)


def weibull(sum_of):
    """ln density and ln survival for shape and scale."""
    def log_likelihood(shape, scale):
        def survival(t):
            return -(t / scale) ** shape
        def density(t):
            return numpy.log(shape / scale) + (shape - 1) * numpy.log(t / scale) + survival(t)
        return sum_of(density, survival)
    return log_likelihood


show("NIST: shape, scale, log likelihood", *maximum(weibull(
    lambda f, s: numpy.sum(numpy.where(failed, f(nist), s(nist)))), [1.5, 600]))
show("NIST, late entry", *maximum(weibull(
    lambda f, s: numpy.sum(numpy.where(failed, f(nist), s(nist)) - s(entry))), [1.5, 600]))

# Nelson, Applied Life Data Analysis 1982, p. 415: 167 parts inspected for cracks.
upper = numpy.array([6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48])
lower = numpy.concatenate([[0], upper[:-1]])
cracked = numpy.array([5, 16, 12, 18, 18, 2, 6, 17])
show("Nelson", *maximum(weibull(
    lambda f, s: numpy.sum(cracked * numpy.log(numpy.exp(s(lower)) - numpy.exp(s(upper)))) +
    73 * s(63.48)), [1.5, 70]))


# The posterior of NIST's data by brute force: ln shape normal about ln 1.5 with sigma 0.6, ln scale
# flat, the trapezoidal rule on a grid. Doubling its fineness moves nothing shown.
def posterior(points):
    k = numpy.linspace(-2, 2.5, points)[:, None]
    c = numpy.linspace(5, 10, points)[None, :]
    log_weight = -0.5 * ((k - numpy.log(1.5)) / 0.6) ** 2
    shape, scale = numpy.exp(k), numpy.exp(c)
    for t, is_failed in zip(nist, failed):
        log_weight = log_weight - (t / scale) ** shape
        if is_failed:
            log_weight = log_weight + k - c + (shape - 1) * (numpy.log(t) - c)
    weight = numpy.exp(log_weight - log_weight.max())
    weight /= weight.sum()

    def quantiles(marginal, at):  # of a density known on an even grid: its integral, interpolated
        cells = (marginal[1:] + marginal[:-1]) / 2
        cumulative = numpy.concatenate([[0], numpy.cumsum(cells)])
        return numpy.interp([0.05, 0.95], cumulative / cumulative[-1], at)

    at_400 = 1 - numpy.exp(-(400 / scale) ** shape)
    edges = numpy.linspace(0, 1, 4001)
    histogram = numpy.histogram(at_400, edges, weights=weight)[0]
    cumulative = numpy.concatenate([[0], numpy.cumsum(histogram)])
    return (numpy.exp(quantiles(weight.sum(1), k[:, 0])), numpy.exp(quantiles(weight.sum(0), c[0])),
            (weight * at_400).sum(), numpy.interp([0.05, 0.95], cumulative, edges))


shapes, scales, mean, interval = posterior(3001)
show("posterior: shape, 90 %", *shapes)
show("posterior: scale, 90 %", *scales)
show("posterior: P(not sound at 400 h), 90 %", mean, *interval)

version("lifelines")
import lifelines

fitter = lifelines.WeibullFitter().fit(nist, failed)
show("NIST: shape, scale, log likelihood", fitter.rho_, fitter.lambda_, fitter.log_likelihood_)
fitter = lifelines.WeibullFitter().fit(nist, failed, entry=entry)
show("NIST, late entry", fitter.rho_, fitter.lambda_, fitter.log_likelihood_)
fitter = lifelines.WeibullFitter().fit_interval_censoring(
    numpy.append(lower, 63.48), numpy.append(upper, numpy.inf), weights=numpy.append(cracked, 73))
show("Nelson", fitter.rho_, fitter.lambda_, fitter.log_likelihood_)
for name, options in (("NIST", {}), ("late entry", {"entry": entry})):
    curve = lifelines.KaplanMeierFitter(alpha=0.1).fit(nist, failed, **options)
    table = curve.survival_function_.join(curve.confidence_interval_)
    for at, row in table.iterrows():
        show(f"Kaplan-Meier, {name}, after {at:g} h", *row)

version("reliability")
from reliability.Fitters import Fit_Weibull_2P

with contextlib.redirect_stdout(io.StringIO()):
    fit = Fit_Weibull_2P(nist[failed == 1], nist[failed == 0], show_probability_plot=False,
                         print_results=False, CI=0.9)
show("NIST: shape, scale, log likelihood", fit.beta, fit.alpha, fit.loglik)
show("NIST: shape, 90 %", fit.beta_lower, fit.beta_upper)
show("NIST: scale, 90 %", fit.alpha_lower, fit.alpha_upper)

version("surpyval")
import surpyval

fit = surpyval.Weibull.fit(x=nist, c=1 - failed)
show("NIST: shape, scale, log likelihood", fit.params[1], fit.params[0], -fit.neg_ll())
fit = surpyval.Weibull.fit(x=nist, c=1 - failed, tl=entry)
show("NIST, late entry", fit.params[1], fit.params[0], -fit.neg_ll())
fit = surpyval.Weibull.fit(x=[6.12] + [list(pair) for pair in zip(lower[1:], upper[1:])] + [63.48],
                           c=[-1] + [2] * 7 + [1], n=[5] + list(cracked[1:]) + [73])
show("Nelson", fit.params[1], fit.params[0], -fit.neg_ll())

# ---- Weibull plots, mean cumulative functions and trend: priors_life_plot.cpp, priors_recurrence.cpp ------

# Crow 1974 (also MIL-HDBK-189C): three systems under test for 200 h each, failures at these hours.
crow = [[4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
        [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
        [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8]]
# NIST/SEMATECH e-Handbook 8.2.3.4: one system, ten failures, watch ended at 1,500 h.
growth = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# Nelson and Doganaksoy 1989 (Nelson 2003, table 3.1): 48 replacements of valve seats on 41 diesel engines,
# in days; the last of each is the end of its watch.
valve_seats = [[761], [759], [98, 667], [326, 653, 653, 667], [665], [84, 667], [87, 663], [646, 653],
               [92, 653], [651], [258, 328, 377, 621, 650], [61, 539, 648], [254, 276, 298, 640, 644],
               [76, 538, 642], [635, 641], [349, 404, 561, 649], [631], [596], [120, 479, 614],
               [323, 449, 582], [139, 139, 589], [593], [573, 589], [165, 408, 604, 606], [249, 594],
               [344, 497, 613], [265, 586, 595], [166, 206, 348, 389], [601], [410, 581, 601], [611], [608],
               [587], [367, 603], [202, 563, 570, 585], [587], [578], [578], [586], [585], [582]]

version("scipy")
for name, systems, ends in (("Crow", crow, [200] * 3), ("NIST growth", [growth], [1500]),
                            ("valve seats", [engine[:-1] for engine in valve_seats],
                             [engine[-1] for engine in valve_seats])):
    events = [(t, end) for times, end in zip(systems, ends) for t in times]
    t, end = numpy.array(events, float).T
    z = (t - end / 2).sum() / numpy.sqrt((end**2).sum() / 12)
    show(f"{name}: Laplace, p", z, 2 * stats.norm.sf(abs(z)))
    chi2 = 2 * numpy.log(end / t).sum()
    low = stats.chi2.cdf(chi2, 2 * len(t))
    show(f"{name}: handbook, p", chi2, 2 * min(low, 1 - low))
    shape = len(t) / numpy.log(end / t).sum()
    show(f"{name}: shape, 90 %", shape, *(shape * stats.chi2.ppf([0.05, 0.95], 2 * len(t)) / (2 * len(t))))
    u = numpy.sort((t / end) ** (shape * (len(t) - 1) / len(t)))
    show(f"{name}: Cramer-von Mises",
         1 / (12 * len(t)) + (((numpy.arange(len(t)) + 0.5) / len(t) - u) ** 2).sum())

version("reliability")
from reliability.Probability_plotting import plotting_positions
from reliability.Repairable_systems import MCF_nonparametric, ROCOF

with contextlib.redirect_stdout(io.StringIO()):
    rocof = ROCOF(failure_times=growth, test_end=1500, show_plot=False, print_results=False)
    mcf = MCF_nonparametric(data=valve_seats, print_results=False, show_plot=False)
    positions = plotting_positions(failures=nist[failed == 1], right_censored=nist[failed == 0])
    late = plotting_positions(failures=[300, 400, 450, 600], right_censored=[100, 350, 420, 500])
    fit = Fit_Weibull_2P(nist[failed == 1], nist[failed == 0], show_probability_plot=False, print_results=False,
                         CI=0.9)
    bands = [fit.distribution.CDF(CI_type="reliability", CI_x=[at], CI=0.9, show_plot=False)
             for at in (100, 400, 1000)]
show("NIST growth: Laplace", rocof.U)
values = [(float(at), float(m)) for at, m in zip(mcf.time, mcf.MCF) if m != ""]
for at, m in values[:2] + values[24:26] + values[-2:]:
    show(f"valve seats: mean cumulative, {at:g} days", m)
show("NIST: median ranks", *positions[1])
show("suspended: median ranks", *late[1])
show("NIST: Anderson-Darling", fit.AD)
for at, (low, _, high) in zip((100, 400, 1000), bands):
    show(f"NIST: F({at} h), 90 %", low, high)

version("surpyval")
from surpyval.recurrent import CrowAMSAA, NonParametricCounting
from surpyval.recurrent.tests import laplace, mil_hdbk_189c

for name, systems, ends in (("Crow", crow, [200] * 3), ("NIST growth", [growth], [1500]),
                            ("valve seats", [engine[:-1] for engine in valve_seats],
                             [engine[-1] for engine in valve_seats])):
    x = [t for times in systems for t in times]
    item = [number for number, times in enumerate(systems) for _ in times]
    window = {number: end for number, end in enumerate(ends) if systems[number]}
    for test in (laplace, mil_hdbk_189c):
        result = test(x, item, T=window)
        show(f"{name}: {test.__name__}, p", result.statistic, result.p_value)
    x += ends
    item += range(len(ends))
    c = [0] * (len(x) - len(ends)) + [1] * len(ends)
    if name == "Crow":
        show("Crow: shape", CrowAMSAA.fit(x, item, c).params[1])
    if name == "valve seats":
        model = NonParametricCounting.fit(x, item, c)
        for k in (0, 1, 25, len(model.x) - 1):
            show(f"valve seats: mean, variance, {model.x[k]:g} days", model.mcf_hat[k], model.var[k])
        show("valve seats: 90 % at 404 days", *model.mcf_cb([404], alpha_ci=0.1)[0])
# Finkelstein and Wolfe 1985: months to breast retraction, 46 patients treated by radiotherapy alone.
retraction = [(45, numpy.inf), (6, 10), (0, 7), (46, numpy.inf), (46, numpy.inf), (7, 16), (17, numpy.inf),
              (7, 14), (37, 44), (0, 8), (4, 11), (15, numpy.inf), (11, 15), (22, numpy.inf), (46, numpy.inf),
              (46, numpy.inf), (25, 37), (46, numpy.inf), (26, 40), (46, numpy.inf), (27, 34), (36, 44),
              (46, numpy.inf), (36, 48), (37, numpy.inf), (40, numpy.inf), (17, 25), (46, numpy.inf), (11, 18),
              (38, numpy.inf), (5, 12), (37, numpy.inf), (0, 5), (18, numpy.inf), (24, numpy.inf),
              (36, numpy.inf), (5, 11), (19, 35), (17, 25), (24, numpy.inf), (32, numpy.inf), (33, numpy.inf),
              (19, 26), (37, numpy.inf), (34, numpy.inf), (36, numpy.inf)]
left, right = numpy.array(retraction).T
model = surpyval.Turnbull.fit(xl=left, xr=right, turnbull_estimator="Kaplan-Meier")
for at in (5, 8, 12, 17, 25, 34, 38, 40):
    show(f"retraction: still whole after {at} months", model.sf([at])[0])
