"""Ten small faces and what the project's numpy study makes of them: test/reference/study_faces.json, study_expected.json.

Run from the repository: python3 scripts/reference/studyFaces.py
Needs Python 3.11, numpy 2.4.6, scipy 1.17.1; with these on one machine the files come out bit for bit the same.
test/ripple/study.test.ts and test/band/study.test.ts hold src/ripple/jointFit.ts and src/band/nullFit.ts against them.

Provenance: drawing, Joint and NullFit are parts of the study that chose the method before the product was written. They
share no code with the product; by the rule `STUDY` and with one travel map they give the study's numbers to 3e-13.
Changed against the study, so that both sides answer the same question:
- it has the ZV shaper alone; here a shaper is any list of impulses, by published theory (ZVD, ZVDD; EI undamped);
- its travel map is interpolated on 500 points, good to 5e-8 s (2e-6 of an amplitude); here on 200,000, to 3e-13 s;
- minima are searched to rounding and not to three digits.

The same by method, and compared to 1e-6: travel map; residual of each band, weights, cost, its minimum and the signed
amplitudes once columns and background are given; the shaper's complex factor; cost, gain and phase of the null fit once
the gain's model and prior are given, for each time origin; the minimum of that cost; the frequency of the null.

Not the same, on purpose, and so not compared (the product's choice first):
- which columns are used: the product stops before the ramp at the wall's end. Rule `PRODUCT` below follows it and is
  compared with `setUpJoint`; rule `STUDY` keeps the study's choice, and the test builds that problem by hand;
- the background: cosines over the columns used and not over the wall, their number rounded and not cut off, the bulge
  counted from the first column, a fixed pitch times a straight line. The same two rules;
- weights: of the best point of the grid, and not of the minimum of an unweighted fit. Compared at a given point;
- standard error of an amplitude: it grows with the amplitude where a band's ripples are late. Here multiplied by the same;
- model error of the null fit: 0.05 and not 0.02. Given to both;
- prior of the gain's bends: scaled in four rounds and not in one. The study's prior is given to both; the other three
  rounds are the product's own and are followed here by numpy (`bent_gain`);
- tilt and bow of the corner: the study has none. Followed here by numpy, at given values;
- columns for the squared slope: the product's own, followed here by numpy (`squares_numbers`);
- which of EI's nulls is told: the study takes one of the two, the product the middle;
- the search for the start, the handicap of other time origins, the rival of the null, the parts of the uncertainty: the
  product's own, not compared.
"""
import json
import os
from pathlib import Path

# Sums in one order, whatever the machine's load.
for name in ('OMP_NUM_THREADS', 'OPENBLAS_NUM_THREADS', 'MKL_NUM_THREADS'):
    os.environ[name] = '1'

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d, median_filter
from scipy.optimize import minimize, minimize_scalar

LAYER_MM = 0.2
LAYERS_PER_BAND = 5
PX_PER_MM = 8
WIDTH_MM, HEIGHT_MM = 48, 24
MAP_POINTS, STUDY_MAP_POINTS = 200_000, 500
FOLDER = Path(__file__).parents[2] / 'test' / 'reference'

# Shaper, its damping setting, wall shaped by the ladder, slot, natural Hz, damping ratio, contrast, noise of a pixel.
CASES = [
    ('ZV', 0.05, False, False, 31.0, 0.06, 0.8, 0.01),
    ('ZV', 0.10, True, False, 38.0, 0.08, 0.8, 0.01),
    ('ZV', 0.15, True, True, 46.0, 0.05, 0.5, 0.03),
    ('ZV', 0.10, False, True, 27.0, 0.12, 0.5, 0.03),
    ('ZV', 0.05, True, False, 53.0, 0.03, 0.3, 0.1),
    ('ZVD', 0.10, False, False, 35.0, 0.07, 1.0, 0.02),
    ('ZVD', 0.05, True, True, 42.0, 0.10, 1.0, 0.05),
    ('ZVDD', 0.10, True, False, 48.0, 0.05, 1.2, 0.02),
    ('EI', 0.0, False, False, 40.0, 0.04, 1.0, 0.05),
    ('EI', 0.0, True, True, 33.0, 0.09, 1.2, 0.1),
]


# ---------- shaper and motion (sim.py, est.tmap) ----------------------------------------------------------------------
def impulses(case, fs):
    """Amplitudes, shape (impulses,), and times, shape (impulses, ...), of the shaper at frequencies fs (natural)."""
    ds = case['ds']
    half = 0.5 / (np.asarray(fs, float) * np.sqrt(1 - ds**2))
    if case['family'] == 'EI':
        a = np.array([1.05 / 4, 0.95 / 2, 1.05 / 4])  # 5 % tolerated
    else:
        k = np.exp(-ds * np.pi / np.sqrt(1 - ds**2))
        binomial = {'ZV': [1, 1], 'ZVD': [1, 2, 1], 'ZVDD': [1, 3, 3, 1]}[case['family']]
        a = np.array(binomial) * k ** np.arange(len(binomial))
        a = a / a.sum()
    return a, np.multiply.outer(np.arange(len(a)), half)


def pole(fn, z):
    return 2 * np.pi * fn * (-z + 1j * np.sqrt(1 - z * z))


def residual_factor(case, fs, fn, z):
    """sim.Rfun: R = sum of A exp(-lambda t)."""
    a, t = impulses(case, fs)
    return np.tensordot(a, np.exp(-pole(fn, z) * t), 1)


def mean_delay(case, fs):
    a, t = impulses(case, fs)
    return np.tensordot(a, t, 1)


def s_of_t(t, m):
    tr = (m['v'] - m['vc']) / m['a']
    tp = np.maximum(t, 0)
    ramp = m['vc'] * tp + 0.5 * m['a'] * tp**2
    return np.where(tp < tr, ramp, m['vc'] * tr + 0.5 * m['a'] * tr**2 + m['v'] * (tp - tr))


def sdot(t, m):
    return np.where(t < 0, 0.0, np.minimum(m['vc'] + m['a'] * t, m['v']))


def tmap(x, m, amplitudes=(1.0,), times=(0.0,), points=MAP_POINTS):
    """est.tmap: travel time and speed at positions x of a move shaped by the impulses."""
    end = (m['v'] - m['vc']) / m['a'] + times[-1]
    ts = np.concatenate([np.linspace(0, end, points), [end + (x[-1] + 20) / m['v']]])
    s = sum(a * s_of_t(ts - ti, m) for a, ti in zip(amplitudes, times))
    t = np.interp(x, s, ts)
    return t, np.maximum(sum(a * sdot(t - ti, m) for a, ti in zip(amplitudes, times)), 0.3 * m['vc'])


# ---------- drawing (sim.slopes, sim.make_face, est.prep) ---------------------------------------------------------------
def slopes(x, fs, case):
    """Slope dy/dx of each row: exact superposition of the corner's step responses."""
    m, z = case['motion'], case['zeta']
    lam = pole(case['fn'], z)
    wd, T = lam.imag, (m['v'] - m['vc']) / m['a']
    out = np.zeros((len(fs), len(x)))
    for i, f in enumerate(fs):
        amplitudes, times = impulses(case, f)
        t, vv = tmap(x, m, *((amplitudes, times) if case['shaped'] else ()), points=STUDY_MAP_POINTS)
        E = np.exp(lam * t)
        for A, ti in zip(amplitudes, times):
            tau = t - ti
            H = tau >= 0
            out[i] += A * (m['a'] / wd) * np.imag(E * np.exp(lam * (T - ti))) * (tau + T >= 0)
            out[i] -= A * (m['a'] / wd) * np.imag(E * np.exp(-lam * ti)) * H
            out[i] += A * (m['vc'] / wd) * np.imag(lam * E * np.exp(-lam * ti)) * H
            out[i] += A * np.where(tau < -T, m['v'], np.where(tau < 0, m['vc'] - m['a'] * tau, 0.0))
        out[i] /= vv
    return out


def smooth_light(rng, shape, ratio):
    """sim.smooth2d: smooth positive field with largest / smallest = ratio."""
    gy, gx = np.linspace(-1, 1, shape[0])[:, None], np.linspace(-1, 1, shape[1])[None, :]
    c = rng.normal(size=8)
    f = c[0] * gx + c[1] * gy + 0.6 * c[2] * gx * gy + 0.6 * c[3] * gx**2 + 0.6 * c[4] * gy**2
    f = f + 0.3 * c[5] * gx**3 + 0.3 * c[6] * np.sin(3 * gx + c[7])
    f = (f - f.min()) / (f.max() - f.min())
    return np.exp((f - 0.5) * np.log(ratio))


def draw(case, rng):
    """Profiles of a drawn face: log brightness over 1 mm of height and 0.125 mm of wall."""
    nrow, ncol = round(HEIGHT_MM / LAYER_MM), WIDTH_MM * PX_PER_MM
    h, x = (np.arange(nrow) + 0.5) * LAYER_MM, (np.arange(ncol) + 0.5) / PX_PER_MM
    fs = case['f0'] + (case['f1'] - case['f0']) * h / HEIGHT_MM
    u = h / HEIGHT_MM
    sl = np.clip(slopes(x, fs, case), -0.6, 0.6)
    gain = np.exp(rng.uniform(-0.5, 0.5) * (u - 0.5) + 0.1 * np.sin(2.5 * np.pi * u + 1))
    along = 1 + 0.15 * np.sin(2 * np.pi * x / WIDTH_MM)
    I = 1 + case['contrast'] * gain[:, None] * along[None, :] * sl
    I = I + 0.2 * case['contrast'] * sl**2 / (np.percentile(np.abs(sl[:, x > 2]), 99) + 1e-9)
    I = I + rng.uniform(0, 0.01) * np.cos(2 * np.pi * x / 2.0 + rng.uniform(0, 6))[None, :]
    I = I * (1 + rng.uniform(-0.2, 0.3) * np.exp(-x / 0.5))[None, :]
    I = np.clip(I, 0.15, None) * (1 + 0.02 * rng.normal(size=nrow))[:, None]
    texture = gaussian_filter1d(rng.normal(size=(nrow, ncol)), 3, axis=1)
    I = (I + 0.004 * texture / texture.std()) * smooth_light(rng, I.shape, rng.uniform(1, 3))
    if case['slot']:
        I[:, (x > 30) & (x < 31.5)] *= 0.15
    I = gaussian_filter(I, (0.6, 1.0)) + case['noise'] / np.sqrt(LAYER_MM * PX_PER_MM) * rng.normal(size=I.shape)
    L = np.log(np.clip(I, 0.01, None))
    x = x + rng.normal(0, 0.1)  # the corner, clicked a little off
    column = np.median(L, 0)
    dark = column - median_filter(column, 81, mode='nearest') < -0.35
    usable = ~(np.convolve(dark, np.ones(9), 'same') > 0)
    Y = L.reshape(-1, LAYERS_PER_BAND, ncol).mean(1)
    Y = Y - Y[:, usable].mean(1)[:, None]
    # Single precision is the data: both sides read the same numbers.
    Y = Y.astype(np.float32).astype(float)
    return dict(x=x, usable=usable, Y=Y, fs=fs.reshape(-1, LAYERS_PER_BAND).mean(1), end=x[-1] - 0.8)


# ---------- joint fit (est.Joint) --------------------------------------------------------------------------------------
def study_columns(face, case, t, longest):
    return face['usable'] & (face['x'] < face['end']) & (face['x'] > 2.0) & (t > longest + 0.001)


def study_background(xm, face, case):
    x, q = face['x'], case['pitch']
    W = x[-1] - x[0]
    n = int(max(3, min(2 * W * case['cutoff'] / case['motion']['v'], 40)))
    N = [np.cos(np.pi * j * (xm - x[0]) / W) for j in range(n + 1)] + [np.exp(-xm / 0.6)]
    return N + [np.cos(2 * np.pi * xm / q), np.sin(2 * np.pi * xm / q)]


def product_columns(face, case, t, longest):
    m = case['motion']
    ramp = (m['v'] ** 2 - m['vc'] ** 2) / (2 * m['a'])
    return face['usable'] & (face['x'] < face['end'] - ramp) & (face['x'] > 2.0) & (t > longest + 0.001)


def product_background(xm, face, case):
    q, along = case['pitch'], xm - xm[0]
    span = xm[-1] - xm[0]
    n = max(3, min(40, int(np.floor(2 * span * case['cutoff'] / case['motion']['v'] + 0.5))))
    N = [np.cos(np.pi * j * along / span) for j in range(n + 1)] + [np.exp(-along / 0.6)]
    wave = [np.cos(2 * np.pi * xm / q), np.sin(2 * np.pi * xm / q)]
    return N + wave + [along / span * w for w in wave]


GROUPS = 6
STUDY = dict(columns=study_columns, background=study_background)
PRODUCT = dict(columns=product_columns, background=product_background)


class Joint:
    """All bands share (f_d, zeta); each has its own complex amplitude and smooth background."""

    def __init__(s, face, case, rule):
        m, fs = case['motion'], face['fs']
        lengths = impulses(case, fs)[1][-1]
        s.w, s.dt, s.groups, s.dof = np.ones(len(fs)), np.zeros(len(fs)), [], []
        for g in np.array_split(np.argsort(lengths), GROUPS):
            amplitudes, times = impulses(case, fs[g])
            middle = times.mean(1)
            t, vv = tmap(face['x'], m, amplitudes, middle) if case['shaped'] else tmap(face['x'], m)
            mask = rule['columns'](face, case, t, lengths[g].max())
            xm = face['x'][mask]
            Q = np.linalg.qr(np.stack(rule['background'](xm, face, case), 1))[0]
            Y = face['Y'][g][:, mask].T
            s.groups.append((g, t[mask], vv[mask] / m['v'], Q, Y - Q @ (Q.T @ Y), np.flatnonzero(mask)))
            s.dof.append(len(xm) - Q.shape[1] - 2)
            if case['shaped']:
                s.dt[g] = mean_delay(case, fs[g]) - amplitudes @ middle

    def columns(s, G, f, z):
        _, t, vv, _, _, _ = G
        e = np.exp(-2 * np.pi * f * z / np.sqrt(1 - z * z) * t) / vv
        return np.stack([e * np.cos(2 * np.pi * f * t), -e * np.sin(2 * np.pi * f * t)], 1)

    def basis(s, G, f, z):
        B, Q = s.columns(G, f, z), G[3]
        return B - Q @ (Q.T @ B)

    def residuals(s, f, z):
        """Residual sum of squares of each band."""
        out = np.zeros(len(s.w))
        for G in s.groups:
            q = np.linalg.qr(s.basis(G, f, z))[0]
            out[G[0]] = ((G[4] - q @ (q.T @ G[4])) ** 2).sum(0)
        return out

    def cost(s, f, z):
        return float(s.w @ s.residuals(f, z))

    def weights(s, f, z):
        """Each band by what is left of it."""
        n = np.zeros(len(s.w))
        for G, d in zip(s.groups, s.dof):
            n[G[0]] = d
        s2 = s.residuals(f, z) / n
        return 1 / (s2 + 0.3 * np.median(s2))

    def amplitudes(s, f, z):
        """Signed complex amplitude of each band, referred to the corner, and its standard error."""
        Z, se = np.zeros(len(s.w), complex), np.zeros(len(s.w))
        for G, d in zip(s.groups, s.dof):
            B = s.basis(G, f, z)
            M = np.linalg.inv(B.T @ B)
            c = M @ (B.T @ G[4])
            Z[G[0]] = c[0] + 1j * c[1]
            se[G[0]] = np.sqrt(((G[4] - B @ c) ** 2).sum(0) / d * np.trace(M) / 2)
        # The study leaves the error as it is; the product lets it grow with the amplitude.
        return s.at_corner(Z, se, f, z)

    def at_corner(s, Z, se, f, z):
        later = np.exp(-2 * np.pi * f * (-z / np.sqrt(1 - z * z) + 1j) * s.dt)
        return Z * later, se * np.abs(later)


def squares_numbers(J, f, z):
    """The product's own: three more columns for the squared slope, level and twice the frequency.

    The background can nearly imitate the level, so the product adds 1e-9 of each column's energy to the Gram matrix; that
    moves a residual by up to 2e-5 and an amplitude by up to 7e-5 of itself against plain least squares. Followed here by
    least squares with a row more for each column, so that no digit is lost.
    """
    residuals, Z, se = np.zeros(len(J.w)), np.zeros(len(J.w), complex), np.zeros(len(J.w))
    for G, d in zip(J.groups, J.dof):
        _, _, _, Q, Y, _ = G
        c, m = J.columns(G, f, z).T
        raw = np.stack([c, m, c * c + m * m, c * c - m * m, 2 * c * m], 1)
        B = raw - Q @ (Q.T @ raw)
        A = np.vstack([B, np.diag(np.sqrt(1e-9 * (raw**2).sum(0)))])
        x = np.linalg.lstsq(A, np.vstack([Y, np.zeros((5, Y.shape[1]))]), rcond=None)[0]
        R = np.linalg.inv(np.linalg.qr(A)[1])
        M = R @ R.T
        left = (Y**2).sum(0) - (x * (B.T @ Y)).sum(0)
        residuals[G[0]], Z[G[0]] = left, x[0] + 1j * x[1]
        se[G[0]] = np.sqrt(left / (d - 3) * (M[0, 0] + M[1, 1]) / 2)
    Z, se = J.at_corner(Z, se, f, z)
    return dict(residuals=residuals.tolist(), amplitudes=complex_list(Z), sd=se.tolist())


def polished(fun, start, size):
    """Minimum to rounding: a simplex, made anew where it stopped."""
    p = np.array(start, float)
    for _ in range(4):
        simplex = [p] + [p + size * e for e in np.eye(len(p))]
        options = dict(initial_simplex=simplex, xatol=1e-12, fatol=1e-15, maxiter=2000)
        p = minimize(fun, p, method='Nelder-Mead', options=options).x
    return p


# The product's stencil: steps of 0.003 in frequency and 0.06 in damping ratio.
STENCIL = [(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1)]


def joint_numbers(J, f, z):
    """What is compared at (f, z), and the minimum of the cost with the weights of that point."""
    w = J.weights(f, z)
    Z, se = J.amplitudes(f, z)
    J.w = w
    at = polished(lambda q: J.cost(np.exp(q[0]), np.exp(q[1])), np.log([f, z]), 0.02)
    return dict(
        groups=[
            dict(bands=G[0].tolist(), columns=len(G[5]), first=int(G[5][0]), last=int(G[5][-1]))
            for G in J.groups
        ],
        # Every sixteenth column of each group: travel time and speed as a share.
        timeS=[G[1][::16].tolist() for G in J.groups],
        speedRatio=[G[2][::16].tolist() for G in J.groups],
        residuals=[J.residuals(f * (1 + 0.003 * i), z * (1 + 0.06 * j)).tolist() for i, j in STENCIL],
        weights=w.tolist(),
        cost=J.cost(f, z),
        farCost=J.cost(1.3 * f, 0.6 * z),
        amplitudes=complex_list(Z),
        sd=se.tolist(),
        minimum=dict(frequencyHz=float(np.exp(at[0])), dampingRatio=float(np.exp(at[1])), cost=J.cost(*np.exp(at))),
    )


# ---------- null fit (est.NullFit, real gain) --------------------------------------------------------------------------
ORDER, PRIOR, MODEL_ERROR = 6, 0.5, 0.05


class NullFit:
    """z_h = phase G(h) R(f_s(h); fn, zeta) e^(lambda psi delay), G a real Chebyshev series with a prior."""

    def __init__(s, case, fs, Z, se):
        s.case, s.fs, s.Z, s.delay = case, fs, Z, mean_delay(case, fs)
        s.u = 2 * (fs - fs.min()) / (fs.max() - fs.min()) - 1
        s.w = 1 / np.sqrt(se**2 + (MODEL_ERROR * np.percentile(np.abs(Z), 80)) ** 2)

    def solve(s, fn, z, psi=0, order=1, P=None, tilt=0.0, bow=0.0):
        """Cost, coefficients of the gain times the phase."""
        R = residual_factor(s.case, s.fs, fn, z) * np.exp(pole(fn, z) * s.delay * psi)
        R = R * np.exp(1j * (tilt * s.u + bow * (2 * s.u**2 - 1)))
        B = R[:, None] * np.polynomial.chebyshev.chebvander(s.u, order) * s.w[:, None]
        M = np.real(B.conj().T @ B)
        M = M + 1e-10 * np.trace(M) * np.eye(len(M))
        if P is not None:
            M = M + np.diag(P[: len(M)])
        q = B.conj().T @ (s.Z * s.w)
        A = np.stack([q.real, q.imag], 1)
        ev, V = np.linalg.eigh(A.T @ np.linalg.solve(M, A))
        ph = V[0, 1] + 1j * V[1, 1]
        c = np.linalg.solve(M, np.real(np.conj(ph) * q))
        return float((np.abs(s.Z * s.w) ** 2).sum() - ev[1]), c, ph

    def prior_of(s, fn, z, order=1, P=None):
        """Prior of the bends in units of the cost, from the misfit of one gain (the study: of the straight one)."""
        J, c, _ = s.solve(fn, z, 0, order, P)
        red = max(J / (2 * len(s.fs) - order - 3), 1e-9)
        kk = np.arange(ORDER + 3)
        return np.where(kk > 0, red / (PRIOR * abs(c[0]) / np.maximum(kk, 1) ** 1.5) ** 2, 0.0)

    def bent_gain(s, fn, z):
        """The product's four rounds."""
        P = s.prior_of(fn, z)
        for _ in range(3):
            P = s.prior_of(fn, z, ORDER, P)
        return P


def null_numbers(case, fs, Z, se):
    n, fn, z, zsd = NullFit(case, fs, Z, se), case['fn'], case['zeta'], 0.2
    grid = np.arange(max(12, fs.min() * 0.85), fs.max() * 1.15, 0.5)
    grid = grid[(grid > fn / 1.4) & (grid < fn * 1.4)]
    straight = [n.solve(f, z)[0] for f in grid]
    P = n.prior_of(grid[int(np.argmin(straight))], z)
    bent = [n.solve(f, z, 0, ORDER, P)[0] for f in grid]
    start, unit = grid[int(np.argmin(bent))], max(1, min(bent) / (2 * len(fs)))
    fun = lambda q: n.solve(q[0], np.exp(q[1]), 0, ORDER, P)[0] + ((q[1] - np.log(z)) / zsd) ** 2 * unit
    at = polished(fun, [start, np.log(z)], 0.2)
    trials = []
    for f, zt in ((fn, z), (1.12 * fn, 1.5 * z)):
        for psi in (0, 1, -1):
            for tilt, bow in ((0.0, 0.0), (0.3, -0.2)):
                for order, prior in ((1, None), (ORDER, P)):
                    J, c, ph = n.solve(f, zt, psi, order, prior, tilt, bow)
                    told = dict(naturalHz=f, zeta=zt, timeOrigin=psi, tilt=tilt, bow=bow, order=order)
                    trials.append(dict(**told, cost=J, gain=complex_list(c * ph)))
    size = lambda hz: abs(residual_factor(case, hz, fn, z)) ** 2
    hz = np.linspace(fn * 0.75, fn * 1.3, 1101)
    best = hz[np.argmin(size(hz))]
    refined = minimize_scalar(size, bounds=(best - 0.1, best + 0.1), method='bounded', options=dict(xatol=1e-10))
    return dict(
        factor=complex_list(residual_factor(case, fs, fn, z)),
        prior=P.tolist(),
        bentPrior=n.bent_gain(fn, z).tolist(),
        trials=trials,
        search=dict(startHz=float(start), unit=float(unit), zeta=z, zetaSd=zsd),
        minimum=dict(naturalHz=float(at[0]), dampingRatio=float(np.exp(at[1])), cost=float(fun(at))),
        nullHz=float(refined.x),
    )


# ---------- files -------------------------------------------------------------------------------------------------------
def complex_list(z):
    return dict(re=np.real(z).tolist(), im=np.imag(z).tolist())


def packed(values, kind):
    """Little-endian numbers in hexadecimal: shorter than decimals, exact, and no letters that could spell a word."""
    return np.ascontiguousarray(values, dtype=kind).tobytes().hex()


def write(name, note, faces):
    lines = ',\n'.join(json.dumps(face, separators=(',', ':'), allow_nan=False) for face in faces)
    (FOLDER / name).write_text('{"note":%s,"faces":[\n%s\n]}\n' % (json.dumps(note), lines))


def main():
    faces, expected = [], []
    for k, (family, ds, shaped, slot, fn, zeta, contrast, noise) in enumerate(CASES):
        rng = np.random.default_rng(4100 + k)
        speed, corner, acceleration = rng.uniform(80, 130), rng.uniform(2, 10), rng.uniform(3000, 7000)
        case = dict(family=family, ds=ds, shaped=shaped, slot=slot, fn=fn, zeta=zeta, contrast=contrast, noise=noise)
        case.update(motion=dict(v=speed, vc=corner, a=acceleration), f0=18.0, f1=62.0, pitch=2.0, cutoff=fn / 2)
        face = draw(case, rng)
        fd = fn * np.sqrt(1 - zeta**2)
        product = Joint(face, case, PRODUCT)
        numbers = joint_numbers(product, fd, zeta)
        Z, se = product.amplitudes(fd, zeta)
        faces.append(
            dict(
                shaper=dict(family=family, dampingRatio=ds, hzMeans='natural'),
                wallShaped=shaped,
                speedMmPerS=speed,
                cornerSpeedMmPerS=corner,
                accelerationMmPerS2=acceleration,
                wallEndMm=face['end'],
                cutoffHz=case['cutoff'],
                pitchMm=case['pitch'],
                naturalHz=fn,
                dampingRatio=zeta,
                ladderHz=face['fs'].tolist(),
                positionsMm=packed(face['x'], '<f8'),
                usable=packed(face['usable'], 'u1'),
                profiles=packed(face['Y'], '<f4'),
            )
        )
        expected.append(
            dict(
                frequencyHz=fd,
                product=numbers,
                study=joint_numbers(Joint(face, case, STUDY), fd, zeta),
                squares=squares_numbers(product, fd, zeta),
                null=null_numbers(case, face['fs'], Z, se),
            )
        )
        print(f'face {k}: {family}, amplitude / noise {np.percentile(np.abs(Z) / se, 75):.0f}')
    made = 'Made by scripts/reference/studyFaces.py (numpy 2.4.6, scipy 1.17.1). '
    write('study_faces.json', made + 'Profiles: hexadecimal, little-endian float32, bands x columns; positions: float64.', faces)
    write('study_expected.json', made + 'What each number is: see the script.', expected)


if __name__ == '__main__':
    main()
