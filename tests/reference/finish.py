"""How a wheel's rate and a drying weight are learnt, by SciPy on a grid.

The rate: a log-normal belief and log-normal stints, integrated by quadrature, no
conjugate formula used. The drying weights: least squares by curve_fit.
"""

import math

import numpy
import scipy
from scipy.integrate import quad
from scipy.optimize import curve_fit
from scipy.stats import norm

NINE_IN_TEN = norm.ppf(0.95)


def rate():
    median, factor, scatter = 150.0, 3.0, 2.0
    stints = [210.0, 180.0, 260.0]
    sd, noise = math.log(factor) / NINE_IN_TEN, math.log(scatter) / NINE_IN_TEN

    def weight(x):
        out = norm.pdf(x, math.log(median), sd)
        for r in stints:
            out *= norm.pdf(math.log(r), x, noise)
        return out

    def moment(k, about=0.0):
        return quad(lambda x: (x - about) ** k * weight(x), 3, 8, epsabs=0, epsrel=1e-12, points=[5.2])[0]

    mean = moment(1) / moment(0)
    return {
        "median": median,
        "factor": factor,
        "scatter": scatter,
        "stints": stints,
        "log_mean": mean,
        "log_sd": math.sqrt(moment(2, mean) / moment(0)),
    }


def drying():
    days = [0.0, 7.0, 14.0, 21.0, 28.0, 35.0]
    grams = [80.000, 79.021, 78.560, 78.310, 78.214, 78.141]
    law = lambda t, settles, loses, tau: settles + loses * numpy.exp(-t / tau)
    found, _ = curve_fit(law, days, grams, p0=[78.0, 2.0, 10.0], xtol=1e-14, ftol=1e-14)
    return {"days": days, "grams": grams, "settles_g": found[0], "half_life_days": found[2] * math.log(2)}


def values():
    return {
        "versions": {"scipy": scipy.__version__, "numpy": numpy.__version__},
        "rate": rate(),
        "drying": drying(),
    }
