"""Prints the values that priors_distributions.cpp, priors_pooling.cpp and priors_wear_out.cpp hold the
library to, from SciPy, lifelines, reliability and surpyval:

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
