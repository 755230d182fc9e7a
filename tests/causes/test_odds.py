"""Bayes factors against the normal distribution itself (scipy.stats) and numerical integration (scipy.integrate)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import halfnorm, multivariate_normal, norm

from ledger.causes.odds import free, known, size

COVARIANCE = np.array([[2.0, 0.6, 0.0], [0.6, 1.0, -0.2], [0.0, -0.2, 0.5]])
H = np.array([1.0, -0.5, 0.25])
R = np.array([2.1, -1.4, 0.9])
INVERSE = np.linalg.inv(COVARIANCE)
B, Q = float(H @ INVERSE @ R), float(H @ INVERSE @ H)


def _density(theta: float) -> float:
    return float(multivariate_normal.pdf(R, mean=theta * H, cov=COVARIANCE))


@pytest.mark.parametrize("theta", [-1.5, 0.3, 2.0])
def test_a_known_size_is_a_ratio_of_densities(theta: float) -> None:
    assert known(theta, B, Q) == pytest.approx(np.log(_density(theta) / _density(0.0)), rel=1e-10)


def test_a_size_known_to_within_something_is_averaged_over_it() -> None:
    averaged, _ = quad(lambda t: _density(t) * norm.pdf(t, loc=1.2, scale=0.4), -3, 5)
    assert known(1.2, B, Q, 0.4) == pytest.approx(np.log(averaged / _density(0.0)), rel=1e-8)


def test_a_free_size_is_averaged_over_its_prior() -> None:
    averaged, _ = quad(lambda t: _density(t) * norm.pdf(t, scale=1.7), -20, 20)
    assert float(free(B, Q, 1.7, 1.7)) == pytest.approx(np.log(averaged / _density(0.0)), rel=1e-8)


def test_one_sign_is_averaged_over_that_half() -> None:
    averaged, _ = quad(lambda t: _density(t) * halfnorm.pdf(t, scale=1.7), 0, 20)
    assert float(free(B, Q, 1.7, 1.7, 1)) == pytest.approx(np.log(averaged / _density(0.0)), rel=1e-8)
    assert float(free(B, Q, 1.7, 1.7, -1)) < float(free(B, Q, 1.7, 1.7, 1))


def test_the_fitted_size_is_that_of_least_squares_where_the_prior_is_wide() -> None:
    theta, sd = size(B, Q, 1e6)
    assert (theta, sd) == pytest.approx((B / Q, Q**-0.5), rel=1e-9)
