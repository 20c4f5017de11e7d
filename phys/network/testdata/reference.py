"""A second solution of the steady network, to hold package network against.

It reads, on standard input, {"constants": {...}, "cases": [{"shelf": ...,
"hookup": ..., "linear": bool, "shorted": [...]}]} where shelf and hookup are
files of the published formats, and writes the phasors it finds. It shares no
code with the package and takes another road: residuals are summed branch by
branch in extended precision, for a Newton iteration whose linear solves are
numpy's, and a plug without resistance is a node of known volts. The filament is solved
by its volts and not by its amperes; beta is integrated numerically; the
excitation curve is fitted by scipy's least squares.

The equations are those of the package comment, N1 to N10, and F7 and F8 of
package protect. The constants that no file carries come with the input:
capacitances, the meter's resistance, a fuse's drop, a filament's cold share
and slope, and the usual saturation of a kind of core.
"""

import json
import sys

import numpy as np
from scipy.integrate import quad
from scipy.optimize import least_squares

LC = np.clongdouble
LD = np.longdouble


def number(v):
    """A value as a file writes it: plain, or an object that holds it."""
    return v["value"] if isinstance(v, dict) else v


def beta(n):
    """The fundamental of sin**n: (C13) by quadrature."""
    return quad(lambda t: 2 / np.pi * np.sin(t) ** (n + 1), 0, np.pi, epsabs=1e-14, epsrel=1e-14)[0]


def series_of(o):
    return o["series"] if "series" in o else [o["winding"]]


class Unit:
    def __init__(self, u, k):
        self.tag = u["tag"]
        self.ids = [w["id"] for w in u["windings"]]
        self.pins = [[self.tag + "." + p for p in w["pins"]] for w in u["windings"]]
        v = np.array([number(w["volts"]) for w in u["windings"]], dtype=float)
        self.r = np.array([number(w["ohms"]) for w in u["windings"]], dtype=float)
        self.l = np.array([1e-3 * number(w.get("leakage_mh", 0)) for w in u["windings"]], dtype=float)
        points = u["excitation"] if isinstance(u["excitation"], list) else [u["excitation"]]
        first = points[0]
        ex = [self.ids.index(i) for i in series_of(first)]
        self.f0 = first["hertz"]
        V, I, W = number(first["volts"]), number(first["amps"]), number(first["watts"])
        R, L = self.r[ex].sum(), self.l[ex].sum()
        # The idle current lags by the angle of its watts; the induced volts
        # are what the copper and the leakage leave (N7).
        drop = (R + 2j * np.pi * self.f0 * L) * I * np.exp(-1j * np.arccos(W / (V * I)))
        A = abs(V - drop)
        self.a = v.copy()
        self.a[ex] = A * v[ex] / v[ex].sum()
        self.G = W - I * I * R  # N8
        self.Q = np.sqrt((A * I) ** 2 - self.G**2)
        prior = k["saturation"][u.get("core", {}).get("kind", "EI")]
        S, n0 = prior["s"], prior["n"]
        m = u["mains"]
        side = [self.ids.index(i) for i in series_of(m)]
        x0 = (v[side].sum() / self.f0) / (m["volts"] / m["hertz"])
        self.kappa, self.n = S * beta(n0) * x0 ** (n0 - 1), n0
        if len(points) > 1:
            self.fit(points[1:], prior["ln_sigma"], k)

    def fit(self, points, ln_sigma, k):
        """Further excitation readings move ln kappa and n from their prior."""
        xs, qs = [], []
        for e in points:
            s = [self.ids.index(i) for i in series_of(e)]
            a, R, L = self.a[s].sum(), self.r[s].sum(), self.l[s].sum()
            V, I = number(e["volts"]), number(e["amps"])
            P = number(e["watts"]) if e.get("watts") else min(self.G * (V / a) ** 2 + I * I * R, 0.95 * V * I)
            E = abs(V - (R + 2j * np.pi * e["hertz"] * L) * I * np.exp(-1j * np.arccos(P / (V * I)))) / a
            loss = max(P - I * I * R, 0)
            q = np.sqrt(max((E * a * I) ** 2 - loss**2, 0)) / E
            if q > 0:
                xs.append(E * self.f0 / e["hertz"])
                qs.append(q / self.Q)
        xs, qs = np.array(xs), np.array(qs)
        k0, n0 = np.log(self.kappa), self.n

        def misfit(p):
            g = xs * (1 + np.exp(p[0]) * xs ** (p[1] - 1)) / (1 + np.exp(p[0]))
            return np.concatenate([[(p[0] - k0) / ln_sigma, (p[1] - n0) / k["exponent_u"]], (np.log(qs) - np.log(g)) / k["curve_u"]])

        best = least_squares(misfit, [k0, n0], jac="3-point", bounds=([-np.inf, 2], [np.inf, 20]), ftol=1e-15, xtol=1e-15, gtol=1e-15)
        self.kappa, self.n = np.exp(best.x[0]), best.x[1]


class Network:
    def __init__(self, case, k):
        h = case["hookup"]
        self.k = k
        self.linear = case.get("linear", False)
        plugs = h["feed"] if isinstance(h["feed"], list) else [h["feed"]]
        self.f = plugs[0]["hertz"]
        self.w = 2 * np.pi * self.f
        self.copper = (234.5 + h["copper_c"]) / 254.5 if "copper_c" in h else 1.0
        on = [h.get("fed", True) and p.get("fed", True) for p in plugs]
        ground = {p["neutral"] for p, o in zip(plugs, on) if o} | {h.get("earth", "")}
        self.index, self.count = {}, 0  # name -> free node, or -1 for ground
        tags = []
        for name, pins in h["joints"].items():
            at = -1 if name in ground else self.new()
            self.index[name] = at
            for p in pins:
                self.index[p] = at
                if p.split(".")[0] not in tags:
                    tags.append(p.split(".")[0])
        self.units = [Unit(u, k) for t in tags for u in case["shelf"]["units"] if u["tag"] == t]
        self.windings, self.short, self.y = [], [], []
        for i, u in enumerate(self.units):
            core = self.at(u.tag + ".core")
            for j in range(len(u.ids)):
                part = sum(s["part"] for s in case.get("shorted", []) if s["unit"] == u.tag and s["winding"] == u.ids[j])
                left = 1 - part
                z = u.r[j] * self.copper * left + 1j * self.w * u.l[j] * left**2
                ends = [self.at(p) for p in u.pins[j]]
                self.windings.append((ends[0], ends[1], LC(z), LD(u.a[j] * left), i, u.tag + "/" + u.ids[j]))
                if part > 0:
                    z = u.r[j] * self.copper * part + 1j * self.w * u.l[j] * part**2
                    self.short.append((LC(z), LD(u.a[j] * part), i))
                for e in (0, 1):
                    self.link(ends[e], core, 1j * self.w * k["winding_farads"] / 2)
                    for o in range(j):
                        if u.pins[j][e] != u.pins[o][e]:
                            self.link(ends[e], self.at(u.pins[o][e]), 1j * self.w * k["pair_farads"] / 2)
            self.link(core, -1, 1j * self.w * k["core_farads"])
        self.fixed = {}  # node -> volts
        self.plugs = []
        for p, o in zip(plugs, on):
            if not o:
                self.plugs.append(None)
                continue
            s = LC(number(p["volts"]) * np.exp(1j * np.pi / 180 * p.get("degrees", 0)))
            live, ohms, lamp = self.at(p["live"]), p.get("ohms", 0), p.get("lamp")
            if lamp and lamp.get("ohms"):
                ohms, lamp = ohms + lamp["ohms"], None
            far = live
            if lamp and ohms > 0:
                far = self.new()
                self.link(far, live, 1 / ohms)
            if lamp:
                self.plugs.append(("lamp", s, far, lamp))
            elif ohms > 0:
                self.plugs.append(("ohms", s, live, LC(1 / ohms)))
            else:
                self.plugs.append(("stiff", s, live, None))
                self.fixed[live] = s
        self.loads = []
        for o in h.get("outputs", []):
            l = o.get("load")
            if not l:
                self.loads.append(None)
                continue
            a, b = self.at(o["from"]), self.at(o["to"])
            if l.get("amps"):
                self.loads.append((a, b, None, l["amps"] * np.exp(-1j * np.arccos(l.get("power_factor", 1)))))
            else:
                y = 1 / (l.get("ohms", 0) + 1j * self.w * l.get("henries", 0))
                self.loads.append((a, b, LC(y), None))
                self.link(a, b, y)
        for fu in h.get("fuses", []):
            self.link(self.at(fu["from"]), self.at(fu["to"]), fu["amps"] / k["fuse_drop"])
        for m in h.get("meters", []):
            self.link(self.at(m["from"]), self.at(m["to"]), 1 / k["meter_ohms"])

    def new(self):
        self.count += 1
        return self.count - 1

    def at(self, name):
        if name not in self.index:
            self.index[name] = self.new()
        return self.index[name]

    def link(self, a, b, y):
        if a != b:
            self.y.append((a, b, LC(y)))

    # Unknowns: node volts, then one induced volt a core, then winding amperes,
    # those of shorted parts last. The first self.kcl rows are sums of currents.

    def v(self, x, n):
        return x[n] if n >= 0 else LC(0)

    def magnetising(self, u, e):
        """Reactive amperes of a core at |E| = e, and its slope."""
        r = LD(u.f0 / self.f)
        if self.linear:
            return u.Q * r * e, u.Q * r
        x, K, n = r * e, LD(u.kappa), LD(u.n)
        xn = x ** (n - 1) if x > 0 else LD(0)
        return u.Q * x * (1 + K * xn) / (1 + K), u.Q * r * (1 + n * K * xn) / (1 + K)

    def filament(self, lamp, u):
        """Amperes at u volts, and the slope: I = V/R(V), F7 and F8."""
        hot, c = LD(lamp["volts"]) ** 2 / LD(lamp["watts"]), LD(self.k["lamp_cold_share"])
        gamma = LD(self.k["lamp_slope"]) / (1 - c)
        s = (u / lamp["volts"]) ** gamma if u > 0 else LD(0)
        R = hot * (c + (1 - c) * s)
        return u / R, (1 - gamma * hot * (1 - c) * s / R) / R

    def equations(self, x, scale, easy):
        """Residual (extended) and its real-form derivative (double)."""
        N = len(x)
        F = np.zeros(N, dtype=LC)
        size = np.zeros(N, dtype=LD)  # of the largest term of each sum
        J = np.zeros((2 * N, 2 * N))

        def add(row, cur):
            if row >= 0:
                F[row] += cur
                size[row] = max(size[row], abs(cur))

        def slope(row, col, d):
            """d is a 2 x 2 real block, or a complex number."""
            if row < 0 or col < 0:
                return
            if not isinstance(d, np.ndarray):
                d = np.array([[d.real, -d.imag], [d.imag, d.real]], dtype=float)
            J[2 * row : 2 * row + 2, 2 * col : 2 * col + 2] += d

        def turned(z, m, dm, turn):
            """turn * m(|z|) z/|z| and its derivative block."""
            r = abs(z)
            T = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]], dtype=float)
            if r == 0:
                return LC(0), T * float(dm)
            u = np.array([float(z.real / r), float(z.imag / r)])
            D = float(dm) * np.outer(u, u) + float(m / r) * (np.eye(2) - np.outer(u, u))
            return LC(turn) * m * z / r, T @ D

        for a, b, y in self.y:
            i = y * (self.v(x, a) - self.v(x, b))
            add(a, i), add(b, -i)
            for n in (a, b):  # rounding goes with the volts, not with their difference
                if n >= 0:
                    size[n] = max(size[n], abs(y * self.v(x, n)))
            for p, q, s in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                slope(p, q, complex(s * y))
        own = self.count + len(self.units)
        for p, q, z, a, k, _ in self.windings + [(-1, -1, z, a, k, "") for z, a, k in self.short]:
            c, i = self.count + k, x[own]
            add(own, self.v(x, p)), add(own, -self.v(x, q)), add(own, -a * x[c]), add(own, -z * i)
            add(p, i), add(q, -i), add(c, a * i)
            for row, f in ((p, 1), (q, -1), (c, a)):
                slope(row, own, complex(f))
            for col, f in ((p, 1), (q, -1), (c, -a), (own, -z)):
                slope(own, col, complex(f))
            own += 1
        for k, u in enumerate(self.units):
            c = self.count + k
            add(c, -u.G * x[c])
            slope(c, c, complex(-u.G))
            m, dm = (u.Q * u.f0 / self.f * abs(x[c]),) + (u.Q * u.f0 / self.f,) if easy else self.magnetising(u, abs(x[c]))
            i, D = turned(x[c], LD(m), LD(dm), 1j)
            add(c, i), slope(c, c, D)
        for p in self.plugs:
            if p is None or p[0] == "stiff":
                continue
            kind, s, n, what = p
            if n < 0:
                continue
            u = scale * s - self.v(x, n)
            if kind == "ohms":
                i, D = what * u, complex(what)
            elif easy:
                i = u / LC(self.k["lamp_cold_share"] * what["volts"] ** 2 / what["watts"])
                D = complex(1 / (self.k["lamp_cold_share"] * what["volts"] ** 2 / what["watts"]))
            else:
                i, D = turned(u, *self.filament(what, abs(u)), 1 + 0j)
            add(n, -i), slope(n, n, D)
        for l in self.loads:
            if l is None or l[2] is not None or easy:
                continue
            a, b, _, amps = l
            u = self.v(x, a) - self.v(x, b)
            A, v0 = LD(abs(amps)), LD(self.k["dead_volts"])
            m, dm = (A, LD(0)) if abs(u) >= v0 else (A * abs(u) / v0, A / v0)
            i, D = turned(u, m, dm, amps / abs(amps))
            add(a, i), add(b, -i)
            for n in (a, b):
                if n >= 0:
                    size[n] = max(size[n], A / max(abs(u), v0) * abs(self.v(x, n)))
            for p, q, s in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                slope(p, q, s * D)
        for n, s in self.fixed.items():
            F[n] = x[n] - scale * s
            size[n] = abs(s)
            J[2 * n : 2 * n + 2, :] = 0
            slope(n, n, 1 + 0j)
        return F, J, size

    def newton(self, x, scale, easy):
        merit, best = None, None
        quiet = 0
        for _ in range(300):
            F, J, _ = self.equations(x, scale, easy)
            rows = 1 / np.abs(J).max(axis=1)
            f = np.empty(2 * len(x), dtype=LD)
            f[0::2], f[1::2] = F.real, F.imag
            d = np.linalg.solve(J * rows[:, None], (f * rows).astype(float))
            step = d[0::2] + 1j * d[1::2]
            size = float(abs(x).max()) + 1e-3
            rel = abs(step).max() / size
            if rel < 1e-11:
                # In the end only rounding of the double solve is left: a few
                # more full steps bring extended precision.
                x = x - step.astype(LC)
                quiet += 1
                if quiet >= 5:
                    return x
                continue
            now = float(abs(f * rows).max())
            t = 1.0
            while t > 1e-5:
                y = x - LD(t) * step.astype(LC)
                G, _, _ = self.equations(y, scale, easy)
                g = np.empty(2 * len(x), dtype=LD)
                g[0::2], g[1::2] = G.real, G.imag
                if float(abs(g * rows).max()) < now or now < 1e-12:
                    break
                t /= 2
            x = x - LD(t) * step.astype(LC)
        return None

    def solve(self):
        x = np.zeros(self.count + len(self.units) + len(self.windings) + len(self.short), dtype=LC)
        x[self.count : self.count + len(self.units)] = 1
        x = self.newton(x, LD(1), True)
        y = x if self.nothing_curved() else self.newton(x, LD(1), False)
        if y is None:  # raise the volts by steps instead
            y = x * LD(0.02)
            for s in np.linspace(0.02, 1, 50):
                y = self.newton(y, LD(s), False)
                if y is None:
                    return None
        return y

    def nothing_curved(self):
        lamps = any(p and p[0] == "lamp" for p in self.plugs)
        return self.linear and not lamps and all(l is None or l[2] is not None for l in self.loads)

    def answer(self):
        x = self.solve()
        if x is None:
            return {"failed": True}
        pair = lambda z: [float(z.real), float(z.imag)]
        F, _, size = self.equations(x, LD(1), self.nothing_curved())
        out = {
            "volts": {name: pair(self.v(x, n)) for name, n in self.index.items()},
            "induced": {u.tag: pair(x[self.count + k]) for k, u in enumerate(self.units)},
            "amps": {},
            "residual": float(max(abs(F) / np.maximum(size, LD(1e-9)))),
        }
        into = {}  # current that windings, links and loads take from each node

        def take(n, i):
            into[n] = into.get(n, 0) + i

        for j, (p, q, z, a, k, name) in enumerate(self.windings):
            i = x[self.count + len(self.units) + j]
            out["amps"][name] = pair(i)
            take(p, i), take(q, -i)
        for a, b, y in self.y:
            i = y * (self.v(x, a) - self.v(x, b))
            take(a, i), take(b, -i)
        out["loads"] = []
        for l in self.loads:
            if l is None:
                out["loads"].append(None)
                continue
            u = self.v(x, l[0]) - self.v(x, l[1])
            if l[2] is not None:
                out["loads"].append(pair(l[2] * u))
                continue
            i = LC(l[3]) * u / max(abs(u), LD(self.k["dead_volts"]))
            out["loads"].append(pair(i))
            take(l[0], i), take(l[1], -i)
        out["feeds"] = []
        for p in self.plugs:
            if p is None:
                out["feeds"].append(None)
                continue
            kind, s, n, what = p
            u = s - self.v(x, n)
            if kind == "stiff":
                i = into[n]
            elif kind == "ohms":
                i = what * u
            else:
                i = u / abs(u) * self.filament(what, abs(u))[0] if u != 0 else LC(0)
            out["feeds"].append(pair(i))
        return out


def main():
    job = json.load(sys.stdin)
    json.dump([Network(c, job["constants"]).answer() for c in job["cases"]], sys.stdout)


if __name__ == "__main__":
    main()
