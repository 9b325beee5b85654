"""Posteriors of identification, by scikit-learn and scipy, on the same table.

Looks: sklearn's CategoricalNB with the table's own chances set as its parameters.
Numbers: scipy's multivariate normal for specific gravity and refractive index.
The observations are drawn here with a fixed seed; signs that count once
(`same_sign`) are left out of the drawing.
"""

import itertools
import pathlib
import tomllib

import numpy as np
import scipy
import sklearn
from scipy.stats import multivariate_normal
from sklearn.naive_bayes import CategoricalNB

ROOT = pathlib.Path(__file__).resolve().parents[2]


# A number that may be anything: gravity over 1 to 5, index over 1.3 to 1.8; and how
# often it is.
FLAT = np.array([1 / 4, 1 / 0.5])
MISREAD = 0.0005


def normal(part, numbers, which):
    if not which:
        return 1.0
    both = part["correlation"] * part["gravity_sigma"] * part["index_sigma"]
    cov = np.array(
        [
            [part["gravity_sigma"] ** 2 + 0.02**2, both],
            [both, part["index_sigma"] ** 2 + 0.01**2],
        ]
    )
    mean = np.array([part["gravity"], part["index"]])
    return multivariate_normal.pdf(
        np.array(numbers)[which], mean[which], cov[np.ix_(which, which)]
    )


def values():
    table = tomllib.loads((ROOT / "crates/opal-reference/data/identity.toml").read_text())
    classes = [c["key"] for c in table["class"]]
    prior = np.array([c["prior"] for c in table["class"]])
    looks = table["look"]
    chance = {(row["class"], row["look"]): row["p"] for row in table["chance"]}
    tables = []
    for look in looks:
        n = len(look["values"])
        flat = [1.0 / n] * n
        tables.append(np.array([chance.get((c, look["key"]), flat) for c in classes]))
    firsts = {tuple(sign["first"]) for sign in table["same_sign"]}
    rng = np.random.default_rng(20)
    cases = []
    for _ in range(40):
        truth = rng.integers(len(classes))
        chosen = sorted(rng.choice(len(looks), size=rng.integers(1, 6), replace=False))
        answers = []
        for k in chosen:
            p = tables[k][truth] / tables[k][truth].sum()
            a = int(rng.choice(len(p), p=p))
            while (looks[k]["key"], looks[k]["values"][a]["key"]) in firsts:
                a = int(rng.choice(len(p), p=p))
            answers.append(a)
        model = CategoricalNB()
        model.classes_ = np.arange(len(classes))
        model.class_count_ = prior
        model.n_features_in_ = len(chosen)
        model.n_categories_ = np.array([tables[k].shape[1] for k in chosen])
        model.class_log_prior_ = np.log(prior / prior.sum())
        model.feature_log_prob_ = [np.log(tables[k]) for k in chosen]
        log = model.predict_joint_log_proba(np.array([answers]))[0]
        case = {
            "looks": {
                looks[k]["key"]: looks[k]["values"][a]["key"] for k, a in zip(chosen, answers)
            }
        }
        kind = rng.integers(3)
        if kind:
            gravity = float(np.round(rng.uniform(1.2, 2.8), 3))
            index = float(np.round(rng.uniform(1.36, 1.56), 3))
            case["gravity"] = gravity
            if kind == 2:
                case["index"] = index
            for k, c in enumerate(classes):
                parts = [p for p in table["component"] if p["class"] == c]
                read = [0, 1] if kind == 2 else [0]
                if not parts:
                    density = np.prod(FLAT[read])
                else:
                    # Every set of numbers may be the misread one.
                    density = 0.0
                    for wrong in itertools.product([False, True], repeat=len(read)):
                        right = [k for k, w in zip(read, wrong) if not w]
                        misread = [k for k, w in zip(read, wrong) if w]
                        chance = np.prod([MISREAD if w else 1 - MISREAD for w in wrong])
                        density += (
                            chance
                            * np.prod(FLAT[misread])
                            * sum(p["weight"] * normal(p, [gravity, index], right) for p in parts)
                        )
                log[k] += np.log(max(density, np.finfo(float).tiny))
        weights = np.exp(log - log.max())
        case["shares"] = dict(zip(classes, (weights / weights.sum()).tolist()))
        cases.append(case)
    return {
        "versions": {
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "scikit-learn": sklearn.__version__,
        },
        "cases": cases,
    }
