"""Circuits of windings, diodes and capacitors by SciPy, from their parts.

Reads a list of circuits as JSON on standard input and writes their waveforms.
The formulation is its own: every storage is taken out of the network and put
back as a source of its state's value; what is left has no memory and gives
the states' derivatives. The curved parts are solved by Newton's method inside
the derivative. With --bench it measures how long SciPy takes instead.
"""
import json
import os
import sys
import time

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"  # matrices of ten rows

import numpy as np
from scipy.integrate import solve_ivp
from scipy.special import gammaln, wrightomega

KNEE = 0.05
COLD = 1 / 16
GAMMA = 0.45 / (1 - COLD)
RATE = (1 - COLD) / 0.1


class Net:
    def __init__(self, c):
        self.c = c
        self.w = 2 * np.pi * c["Hertz"]
        nodes = c["Nodes"]
        names = ["v%d" % i for i in range(nodes)]
        for kind in ("Windings", "Cores", "Feeds", "Branches", "Capacitors"):
            names += ["%s%d" % (kind, i) for i in range(len(c[kind] or []))]
        ind_w = [i for i, k in enumerate(c["Windings"] or []) if k["Henries"] > 0]
        ind_b = [i for i, k in enumerate(c["Branches"] or []) if k["Henries"] > 0]
        names += ["eW%d" % i for i in ind_w] + ["eB%d" % i for i in ind_b]
        at = {n: i for i, n in enumerate(names)}
        n = len(names)
        A = np.zeros((n, n))
        cores, caps = c["Cores"] or [], c["Capacitors"] or []
        feeds, wind, bran = c["Feeds"] or [], c["Windings"] or [], c["Branches"] or []
        diodes, sinks = c["Diodes"] or [], c["Sinks"] or []
        lamps = [i for i, f in enumerate(feeds) if f["Lamp"]]
        self.nk, self.nf = len(cores), len(feeds)
        # States: flux, winding currents, branch currents, capacitor volts, filaments.
        nx = len(cores) + len(ind_w) + len(ind_b) + len(caps) + len(lamps)
        ports = [("d", i) for i in range(len(diodes))] + [("s", i) for i in range(len(sinks))] + [("l", i) for i in lamps] + [("m", i) for i in range(len(cores))]
        m = len(ports)
        S = np.zeros((n, nx))  # right-hand side from states
        U = np.zeros((n, len(feeds)))
        P = np.zeros((n, m))  # right-hand side from port currents
        Q = np.zeros((m, n))  # port volts from unknowns

        def leave(node, col, s):
            if node >= 0:
                A[node, col] += s

        hang = list(range(nodes + 1))

        def root(i):
            while hang[i] != i:
                i = hang[i]
            return i

        def join(a, b):
            a, b = root(a + 1), root(b + 1)
            hang[max(a, b)] = min(a, b)

        x = len(cores)
        for i, k in enumerate(wind):
            r = at["Windings%d" % i]
            leave(k["From"], r, 1)
            leave(k["To"], r, -1)
            join(k["From"], k["To"])
            if k["From"] >= 0:
                A[r, k["From"]] += 1
            if k["To"] >= 0:
                A[r, k["To"]] -= 1
            A[r, r] -= k["Ohms"]
            A[r, at["Cores%d" % k["Core"]]] -= k["Volts"]
            A[at["Cores%d" % k["Core"]], r] += k["Volts"]
            if i in ind_w:
                e = at["eW%d" % i]
                A[r, e] -= 1
                A[e, r] = 1
                S[e, x] = 1
                x += 1
        for i, k in enumerate(bran):
            r = at["Branches%d" % i]
            leave(k["From"], r, 1)
            leave(k["To"], r, -1)
            join(k["From"], k["To"])
            if k["From"] >= 0:
                A[r, k["From"]] += 1
            if k["To"] >= 0:
                A[r, k["To"]] -= 1
            A[r, r] -= k["Ohms"]
            if i in ind_b:
                e = at["eB%d" % i]
                A[r, e] -= 1
                A[e, r] = 1
                S[e, x] = 1
                x += 1
        for i, k in enumerate(caps):
            r = at["Capacitors%d" % i]
            leave(k["From"], r, 1)
            leave(k["To"], r, -1)
            join(k["From"], k["To"])
            if k["From"] >= 0:
                A[r, k["From"]] += 1
            if k["To"] >= 0:
                A[r, k["To"]] -= 1
            S[r, x] = 1
            x += 1
        for i, f in enumerate(feeds):
            r = at["Feeds%d" % i]
            leave(f["Node"], r, -1)
            join(f["Node"], -1)
            A[r, f["Node"]] = 1
            A[r, r] = f["Ohms"]
            U[r, i] = 1
        for j, (kind, i) in enumerate(ports):
            if kind in "ds":
                k = (diodes if kind == "d" else sinks)[i]
                p, q = k["From"], k["To"]
                join(p, q)
                if kind == "d":  # a plain resistor beside it, taken off again in the law
                    g = np.sqrt(k["Law"]["Leak"] / k["Law"]["Ohms"]) / 3
                    for a, b in ((p, q), (q, p)):
                        if a >= 0:
                            A[a, a] += g
                            if b >= 0:
                                A[a, b] -= g
                if p >= 0:
                    P[p, j] = -1
                    Q[j, p] = 1
                if q >= 0:
                    P[q, j] = 1
                    Q[j, q] = -1
            elif kind == "l":
                r = at["Feeds%d" % i]
                P[r, j] = -1
                Q[j, r] = 1
            else:  # the magnetising current of a core, a function of its flux alone
                P[at["Cores%d" % i], j] = 1
        for i, k in enumerate(cores):
            A[at["Cores%d" % i], at["Cores%d" % i]] -= k["Loss"]
        for i in range(nodes):
            if root(i + 1) == i + 1:
                A[i, i] += 1
        T = np.linalg.solve(A, np.hstack([S, U, P]))
        nu = len(feeds)
        self.Yx, self.Yu, self.Yf = T[:, :nx], T[:, nx:nx + nu], T[:, nx + nu:]
        self.Zx, self.Zu, self.Zf = Q @ self.Yx, Q @ self.Yu, Q @ self.Yf
        D = np.zeros((nx, n))
        x = 0
        for i, k in enumerate(cores):
            D[x, at["Cores%d" % i]] = 2 * np.pi * k["Hertz"] / np.sqrt(2)
            x += 1
        for i in ind_w:
            D[x, at["eW%d" % i]] = 1 / wind[i]["Henries"]
            x += 1
        for i in ind_b:
            D[x, at["eB%d" % i]] = 1 / bran[i]["Henries"]
            x += 1
        for i, k in enumerate(caps):
            D[x, at["Capacitors%d" % i]] = 1 / k["Farads"]
            x += 1
        self.lampx = x
        self.D = D
        self.Dx, self.Du, self.Df = D @ self.Yx, D @ self.Yu, D @ self.Yf
        self.nx, self.m, self.n, self.at, self.nodes = nx, m, n, at, nodes
        self.ports, self.lamps = ports, lamps
        law = [d["Law"] for d in diodes]
        self.Is = np.array([k["Saturation"] for k in law])
        self.Vt = np.array([k["Thermal"] for k in law])
        self.Rs = np.array([k["Ohms"] for k in law])
        self.Gb = np.sqrt(np.array([k["Leak"] for k in law]) / self.Rs) / 3
        self.Gl = np.array([k["Leak"] for k in law]) - self.Gb
        self.nd = len(diodes)
        self.sinks = sinks
        beta = [2 / np.sqrt(np.pi) * np.exp(gammaln(k["Exponent"] / 2 + 1) - gammaln(k["Exponent"] / 2 + 1.5)) for k in cores]
        self.Qm = np.array([np.sqrt(2) * k["Magnetising"] / (1 + k["Kappa"]) for k in cores])
        self.sat = np.array([k["Kappa"] / b for k, b in zip(cores, beta)])
        self.pw = np.array([k["Exponent"] for k in cores])
        self.amp = np.array([np.sqrt(2) * f["Volts"] for f in feeds])
        self.ph = np.array([np.radians(f["Degrees"]) for f in feeds])
        self.hot = np.array([feeds[i]["Lamp"]["Volts"] ** 2 / feeds[i]["Lamp"]["Watts"] for i in lamps])
        self.rated = np.array([feeds[i]["Lamp"]["Watts"] / feeds[i]["Lamp"]["Volts"] for i in lamps])
        self.ns, self.nl = len(sinks), len(lamps)
        self.z = np.zeros(m)
        self.solves = 0

    def u(self, t):
        return self.amp * np.sin(self.w * np.asarray(t)[..., None] + self.ph)

    def law(self, x, z):
        """Port currents and their slopes against the port's own z; batched."""
        f, d = np.zeros(z.shape), np.zeros(z.shape)
        nd, ns, nl = self.nd, self.ns, self.nl
        if nd:
            v = z[..., :nd]
            b = self.Rs * self.Is / self.Vt
            w = wrightomega(v / self.Vt + b + np.log(b)).real
            f[..., :nd] = w * self.Vt / self.Rs - self.Is + self.Gl * v
            d[..., :nd] = w / (1 + w) / self.Rs + self.Gl
        for i, s in enumerate(self.sinks):
            v = z[..., nd + i]
            if s["Volts"] == 0:
                th = np.tanh(v / KNEE)
                f[..., nd + i] = s["Amps"] * th
                d[..., nd + i] = s["Amps"] * (1 - th * th) / KNEE
            else:
                a = v - s["Dropout"]
                ra = np.hypot(a, KNEE)
                foot = (a + ra) / 2
                o = foot - s["Volts"]
                ro = np.hypot(o, KNEE)
                f[..., nd + i] = s["Amps"] / s["Volts"] * (foot - (o + ro) / 2)
                d[..., nd + i] = s["Amps"] / s["Volts"] * (1 + a / ra) / 2 * (1 - (1 + o / ro) / 2)
        k = nd + ns
        if nl:
            r = x[..., self.lampx:]
            f[..., k:k + nl] = self.hot * r * z[..., k:k + nl]
            d[..., k:k + nl] = self.hot * r
        k += nl
        if self.nk:
            phi = x[..., :self.nk]
            f[..., k:] = self.Qm * (phi + self.sat * np.sign(phi) * np.abs(phi) ** self.pw)
        return f, d

    def solve(self, t, x, z):
        base = x @ self.Zx.T + self.u(t) @ self.Zu.T
        eye = np.eye(self.m)
        for it in range(200):
            f, d = self.law(x, z)
            self.solves += 1
            J = eye - self.Zf * d[..., None, :]
            dz = np.linalg.solve(J, (base + f @ self.Zf.T - z)[..., None])[..., 0]
            z = z + (dz if it < 20 else dz / 2)
            if np.all(np.abs(dz) < 1e-9 * (1 + np.abs(z))):
                f, d = self.law(x, z)
                return z, f, d
        if z.ndim > 1:  # in a batch a few may need their own start
            for i in range(len(z)):
                z[i] = self.solve(t[i], x[i], self.z)[0]
                self.z = z[i]
            f, d = self.law(x, z)
            return z, f, d
        raise RuntimeError("ports did not settle")

    def shed(self, r):
        s = (r - COLD) / (1 - COLD)
        return np.where(s > 0, np.abs(s) ** (2 / GAMMA) / r, s)

    def fun(self, t, x):
        z, f, d = self.solve(t, x, self.z)
        self.z, self.d = z, d
        dx = self.Dx @ x + self.Du @ self.u(t) + self.Df @ f
        if self.nl:
            r = x[self.lampx:]
            i = z[self.nd + self.ns:self.nd + self.ns + self.nl] / self.rated
            dx[self.lampx:] = RATE * (r * i * i - self.shed(r))
        return dx

    def jac(self, t, x):
        z, f, d = self.solve(t, x, self.z)
        fx = np.zeros((self.m, self.nx))  # of the ports against states directly
        k = self.nd + self.ns
        for j in range(self.nl):
            fx[k + j, self.lampx + j] = self.hot[j] * z[k + j]
        k += self.nl
        for j in range(self.nk):
            fx[k + j, j] = self.Qm[j] * (1 + self.sat[j] * self.pw[j] * abs(x[j]) ** (self.pw[j] - 1))
        zx = np.linalg.solve(np.eye(self.m) - self.Zf * d, self.Zx + self.Zf @ fx)
        out = self.Dx + self.Df @ (d[:, None] * zx + fx)
        k = self.nd + self.ns
        for j in range(self.nl):
            r, i = x[self.lampx + j], z[k + j] / self.rated[j]
            e = 1e-7
            out[self.lampx + j] = RATE * 2 * r * i / self.rated[j] * zx[k + j]
            out[self.lampx + j, self.lampx + j] += RATE * (i * i - (self.shed(r + e) - self.shed(r - e)) / (2 * e))
        return out

    def unknowns(self, t, x):
        z, f, _ = self.solve(t, x, np.tile(self.z, (len(t), 1)))
        return x @ self.Yx.T + self.u(t) @ self.Yu.T + f @ self.Yf.T, z, f

    def probe(self, p, y, z, f):
        kind, i, j = p
        if kind == "volts":
            return (y[:, i] if i >= 0 else 0) - (y[:, j] if j >= 0 else 0)
        if kind == "diode":
            v = z[:, i]
            return f[:, i] + self.Gb[i] * v
        return y[:, self.at[{"winding": "Windings", "feed": "Feeds", "branch": "Branches", "corevolts": "Cores"}[kind] + str(i)]]


def states(net, s):
    return np.array((s["Flux"] or []) + (s["Windings"] or []) + (s["Branches"] or []) + (s["Capacitors"] or []) + (s["Filaments"] or []), float)


def integrate(net, t0, t1, x, method, rtol, t_eval=None, jac=True):
    scale = np.maximum(np.abs(x), 1e-3)
    scale[:net.nk] = np.maximum(scale[:net.nk], 0.1)
    return solve_ivp(net.fun, (t0, t1), x, method=method, rtol=rtol, atol=1e-2 * rtol * scale, jac=net.jac if jac else None, t_eval=t_eval, max_step=1 / net.c["Hertz"] / 32)


def waves(job):
    net = Net(job["Circuit"])
    T = 1 / net.c["Hertz"]
    x = states(net, job["Start"])
    n, fine = job["Samples"], 8
    last = job["Periods"] - 1
    t = last * T + T * np.arange(n * fine + 1) / (n * fine)
    t[-1] = job["Periods"] * T
    sol = integrate(net, 0, job["Periods"] * T, x, "Radau" if job["Radau"] else "LSODA", 1e-10, t)
    if not sol.success:
        raise RuntimeError(job["Name"] + ": " + sol.message)
    y, z, f = net.unknowns(t, sol.y.T)
    out = {"Name": job["Name"], "Values": [], "RMS": [], "Mean": []}
    for p in job["Probes"]:
        v = net.probe(p, y, z, f)
        out["Values"].append(list(v[::fine]))
        w = np.full(len(v), 2.0)
        w[1::2] = 4
        w[0] = w[-1] = 1
        w /= w.sum()
        out["RMS"].append(float(np.sqrt(w @ (v * v))))
        out["Mean"].append(float(w @ v))
    out["End"] = list(sol.y[:, -1])
    return out


def bench(job):
    """The quickest that SciPy is at 1e-4 of the peak, by method and tolerance."""
    net = Net(job["Circuit"])
    T = 1 / net.c["Hertz"]
    n = job["Samples"]
    t = T * np.arange(n + 1) / n
    t[-1] = T

    def traces(sol):
        y, z, f = net.unknowns(t, sol.y.T)
        return [net.probe(p, y, z, f) for p in job["Probes"]]

    steady = states(net, job["Steady"])
    net.z[:] = 0
    net.fun(0, steady)
    truth = traces(integrate(net, 0, T, steady, "LSODA", 1e-10, t))
    best = None
    rows = []
    for method in ("LSODA", "BDF", "Radau"):
        for rtol in (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 1e-7, 1e-8):
            net.fun(0, steady)
            sol = integrate(net, 0, T, steady, method, rtol, t)
            if not sol.success:
                continue
            err = max(np.max(np.abs(a - b)) / np.max(np.abs(b)) for a, b in zip(traces(sol), truth))
            if err > 1e-4:
                continue
            best_of = []
            for _ in range(3):
                net.fun(0, steady)
                s = time.perf_counter()
                integrate(net, 0, T, steady, method, rtol)
                best_of.append(time.perf_counter() - s)
            rows.append({"Method": method, "Rtol": rtol, "Error": err, "Period": min(best_of), "Evaluations": int(sol.nfev)})
            if best is None or rows[-1]["Period"] < best["Period"]:
                best = rows[-1]
            break
    # To the periodic state: from the same guess, until a period moves no
    # state by more than 1e-4 of its size.
    x = states(net, job["Start"])
    size = np.maximum(np.abs(steady), 1e-2)
    net.z[:] = 0
    s = time.perf_counter()
    k = 0
    while k < 2000:
        sol = integrate(net, 0, T, x, best["Method"], best["Rtol"])
        k += 1
        moved = np.max(np.abs(sol.y[:, -1] - x) / size)
        x = sol.y[:, -1]
        # Only what is left to go counts: a slow state moves little a period.
        if np.max(np.abs(x - steady) / size) < 1e-4 and moved < 1e-4:
            break
    return {"Best": best, "All": rows, "Periodic": time.perf_counter() - s, "Periods": k}


def main():
    jobs = json.load(sys.stdin)
    if "--bench" in sys.argv:
        json.dump([bench(j) for j in jobs], sys.stdout)
    else:
        json.dump([waves(j) for j in jobs], sys.stdout)


main()
