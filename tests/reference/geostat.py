"""Reference values for the geostatistics tests, from general-purpose libraries.

The data are invented here (seeded). `python tests/reference/check.py` makes them
again and compares with geostat.json beside this file.
"""

import platform

import gstools as gs
import numpy as np
import pykrige
import scipy
import sklearn
from pykrige.ok import OrdinaryKriging
from pykrige.uk import UniversalKriging
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern


def values():
    rng = np.random.default_rng(20240611)
    n = 40
    places = np.round(rng.uniform([0.0, 0.0], [30.0, 20.0], (n, 2)), 3)
    readings = np.round(
        8.0 + 0.05 * places[:, 0] + np.sin(places[:, 0] / 5.0) * np.cos(places[:, 1] / 4.0)
        + 0.1 * rng.standard_normal(n),
        4,
    )
    targets = np.round(rng.uniform([1.0, 1.0], [29.0, 19.0], (8, 2)), 3)

    out = {
        "versions": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "scikit-learn": sklearn.__version__,
            "pykrige": pykrige.__version__,
            "gstools": gs.__version__,
        },
        "places": places.tolist(),
        "values": readings.tolist(),
        "targets": targets.tolist(),
        "gaussian_process": [],
        "ordinary": {},
        "plane": {},
        "anisotropic": {},
        "variogram": [],
    }

    # Gaussian process, mean 8 known, error variance 0.01.
    for nu in (0.5, 1.5, 2.5):
        kernel = ConstantKernel(0.7, "fixed") * Matern(6.0, "fixed", nu=nu)
        gp = GaussianProcessRegressor(kernel, alpha=0.01, optimizer=None).fit(places, readings - 8.0)
        mean, sd = gp.predict(targets, return_std=True)
        out["gaussian_process"].append(
            {
                "nu": nu,
                "log_likelihood": float(gp.log_marginal_likelihood_value_),
                "mean": (mean + 8.0).tolist(),
                "sd": sd.tolist(),
            }
        )

    # Exponential model exp(-3h/a) with a = 3 * 5; nugget 0.
    parameters = {"psill": 0.8, "range": 15.0, "nugget": 0.0}
    ok = OrdinaryKriging(*places.T, readings, "exponential", parameters, exact_values=True)
    mean, variance = ok.execute("points", *targets.T)
    out["ordinary"] = {"mean": mean.data.tolist(), "variance": variance.data.tolist()}
    uk = UniversalKriging(
        *places.T, readings, "exponential", parameters, drift_terms=["regional_linear"]
    )
    mean, variance = uk.execute("points", *targets.T)
    out["plane"] = {"mean": mean.data.tolist(), "variance": variance.data.tolist()}

    # Matern 3/2, ranges 8 and 3, long direction 0.6 rad; GSTools writes sqrt(nu) h / len,
    # so its length is the range over sqrt(2).
    model = gs.Matern(
        dim=2, var=0.6, len_scale=np.array([8.0, 3.0]) / np.sqrt(2.0), nu=1.5, angles=0.6
    )
    krige = gs.krige.Ordinary(model, places.T, readings, cond_err=0.02, exact=False)
    mean, variance = krige(targets.T)
    out["anisotropic"] = {"mean": mean.tolist(), "variance": variance.tolist()}

    edges = np.arange(0.0, 12.1, 1.5)
    _, gamma, counts = gs.vario_estimate(places.T, readings, edges, return_counts=True)
    out["variogram"] = [
        {"pairs": int(c), "semivariance": float(g)} for c, g in zip(counts, gamma)
    ]

    return out
