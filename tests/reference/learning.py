"""Reference values for what a few outcomes teach, from general-purpose libraries.

The sales are invented here (seeded); Longley and the stack-loss data come with
statsmodels. `python tests/reference/check.py` makes the values again and compares
with learning.json beside this file.
"""

import platform

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import optimize, stats

# The mixed model's and the t law's optimisers stop at about this.
TOLERANCE = 1e-4


def sales():
    """Eighty invented sales: log price on log carats, five kinds, four origins, three of them odd."""
    rng = np.random.default_rng(20261125)
    n = 80
    kind = rng.integers(0, 5, n)
    origin = rng.integers(0, 4, n)
    log_ct = np.round(rng.normal(1.0, 0.6, n), 4)
    effect = np.array([0.5, 0.2, 0.0, -0.3, -0.4])
    field = np.array([0.25, 0.0, -0.1, -0.15])
    y = 4.0 + 1.2 * log_ct + effect[kind] + field[origin] + 0.25 * rng.standard_normal(n)
    even = np.round(y, 4)
    y = even.copy()
    y[[7, 31, 55]] += [1.6, -1.9, 1.4]
    return kind, origin, log_ct, even, np.round(y, 4)


def as_list(x):
    return np.asarray(x, float).tolist()


def ordinary(x, y, at):
    found = sm.OLS(y, x).fit()
    said = found.get_prediction(at).summary_frame(alpha=0.1)
    return {
        "coefficients": as_list(found.params),
        "errors": as_list(found.bse),
        "scale": float(np.sqrt(found.scale)),
        "at": as_list(at),
        "line": as_list(said["mean"]),
        "line_error": as_list(said["mean_se"]),
        "one_low": as_list(said["obs_ci_lower"]),
        "one_high": as_list(said["obs_ci_upper"]),
    }


def student(x, y, freedom):
    """Maximum likelihood with t noise of known degrees of freedom."""
    start = np.append(np.linalg.lstsq(x, y, rcond=None)[0], np.log(0.3))

    def loss(p):
        return -stats.t.logpdf((y - x @ p[:-1]) / np.exp(p[-1]), freedom).sum() + len(y) * p[-1]

    best = optimize.minimize(loss, start, method="BFGS", options={"gtol": 1e-9})
    best = optimize.minimize(loss, best.x, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 20000})
    return {"coefficients": as_list(best.x[:-1]), "scale": float(np.exp(best.x[-1]))}


def values():
    kind, origin, log_ct, even, y = sales()
    x = np.column_stack([np.ones_like(y), log_ct])
    at = np.array([[1.0, 0.0], [1.0, 1.0], [1.0, 2.5]])

    mixed = sm.MixedLM(even, x, groups=kind).fit(reml=True, method="lbfgs", gtol=1e-10)
    effects = [float(np.asarray(mixed.random_effects[k])[0]) for k in range(5)]

    longley = sm.datasets.longley.load_pandas()
    stack = sm.datasets.stackloss.load_pandas()
    stack_x = sm.add_constant(stack.exog)
    return {
        "versions": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "statsmodels": statsmodels.__version__,
        },
        "sales": {
            "kind": kind.tolist(),
            "origin": origin.tolist(),
            "log_ct": as_list(log_ct),
            "log_price": as_list(y),
            "log_price_without_odd_ones": as_list(even),
        },
        "ordinary": ordinary(x, y, at),
        "huber": as_list(sm.RLM(y, x, M=sm.robust.norms.HuberT()).fit().params),
        "student": student(x, y, 4.0),
        "mixed": {
            "coefficients": as_list(mixed.fe_params),
            "scale": float(np.sqrt(mixed.scale)),
            "ratio": float(np.sqrt(np.asarray(mixed.cov_re)[0, 0] / mixed.scale)),
            "effects": effects,
        },
        "longley": {
            "x": as_list(sm.add_constant(longley.exog)),
            "y": as_list(longley.endog),
            "coefficients": as_list(sm.OLS(longley.endog, sm.add_constant(longley.exog)).fit().params),
        },
        "stack_loss": {
            "x": as_list(stack_x),
            "y": as_list(stack.endog),
            "ordinary": as_list(sm.OLS(stack.endog, stack_x).fit().params),
            "student": student(np.asarray(stack_x), np.asarray(stack.endog), 4.0),
        },
        "waiting": waiting(),
    }


def waiting():
    """The next wait after a belief worth 2 waits of 60, three that ended and one that goes on."""
    law = stats.lomax(c=5.0, scale=400.0)
    return {"quantiles": as_list(law.ppf([0.05, 0.5, 0.95])), "within_90": float(law.cdf(90.0))}
