#!/usr/bin/env python3
"""Work the hand cases in exact fractions and write one JSON file for each.

    python3 work.py [folder]      (default: the folder of this script)

Only the standard library is used, and every number is a Fraction until it is printed.

Definitions (nothing is carried forward from day to day):

- The days are the distinct exit times. On day j, n is the weight at risk, that is of the rows with
  entry < day <= exit, and d_k the weight of the rows that leave on that day with cause k. p_k = d_k/n.
- Kaplan-Meier of cause k: 1 minus the product of (1 - p_k), the other causes being censoring.
  Its Greenwood variance is S^2 times the sum of d/(n(n-d)); it is 0 once S is 0.
- Cumulative incidence of cause k: the sum over days of (product over earlier days of 1 - sum of p) * p_k.
  Its Greenwood-type variance is the delta method on the days' multinomial proportions: the derivative
  of the sum by every proportion, written out as a product that leaves that day's factor out, and the
  multinomial covariance (diag(p) - p p')/n of each day.
- Nelson-Aalen of cause k: the sum of p_k; variance the sum of d_k/n^2.
- Infinitesimal jackknife: the sum over clusters (else rows) of the square of the sum of
  weight * (derivative of the estimate by that row's weight).
- Restricted mean up to tau: for Kaplan-Meier the area under S from 0 to tau, for the cumulative incidence
  the area under F_k (time lost to the cause). Variances by the same derivatives.
- Quantile p of Kaplan-Meier: the first day with S <= 1-p; if S equals 1-p exactly, the middle between
  that day and the day on which it falls further, else the last day of follow-up.
- Limits (95 %) only where they have a closed form. No event yet: 0 to 1 - 0.025^(1/Y), Y the rows at risk on
  the day less its events (for the incidence: divided by the proportion free of every event; on a day on which all have
  one, as many as at risk over the proportion free before). Everybody failed without any censoring
  or late entry: the beta product is then Clopper-Pearson, 0.025^(1/n) to 1.
"""
import json
import os
import sys
from fractions import Fraction as Q

HERE = os.path.dirname(os.path.abspath(__file__))


class Sample:
    def __init__(self, exit, cause, entry=None, weight=None, cluster=None):
        self.exit, self.cause, self.entry, self.weight, self.cluster = exit, cause, entry, weight, cluster
        self.rows = range(len(exit))

    def w(self, i):
        return Q(1) if self.weight is None else Q(self.weight[i])

    def at_risk(self, i, day):
        return (self.entry is None or self.entry[i] < day) and day <= self.exit[i]

    def days(self):
        """Distinct exit times of rows that weigh something."""
        return sorted({self.exit[i] for i in self.rows if self.w(i) != 0})

    def counts(self, causes):
        """For each day: n and {cause: d}."""
        out = []
        for day in self.days():
            n = sum((self.w(i) for i in self.rows if self.at_risk(i, day)), Q(0))
            d = {k: sum((self.w(i) for i in self.rows if self.exit[i] == day and self.cause[i] == k), Q(0))
                 for k in causes}
            out.append((n, d))
        return out

    def only(self, k):
        """The same rows with every other cause made censoring."""
        return Sample(self.exit, [c if c == k else 0 for c in self.cause], self.entry, self.weight, self.cluster)


def product(xs):
    out = Q(1)
    for x in xs:
        out *= x
    return out


def incidence(p, k):
    """F_k after each day, by its definition. p is a list of {cause: proportion}."""
    q = [1 - sum(x.values()) for x in p]
    terms = [product(q[:j]) * p[j][k] for j in range(len(p))]
    return [sum(terms[:j + 1], Q(0)) for j in range(len(p))]


def incidence_derivatives(p, k):
    """g[j][i][l]: derivative of F_k after day j by the proportion of cause l on day i."""
    q = [1 - sum(x.values()) for x in p]
    m, causes = len(p), list(p[0])
    g = []
    for j in range(m):
        row = []
        for i in range(m):
            later = Q(0)
            for r in range(i + 1, j + 1):
                later += product(q[s] for s in range(r) if s != i) * p[r][k]
            own = product(q[:i])
            row.append({l: (own if l == k and i <= j else Q(0)) - (later if i <= j else Q(0)) for l in causes})
        g.append(row)
    return g


def delta_variance(grad, counts):
    """Sum over days of grad' (diag(p) - p p')/n grad."""
    total = Q(0)
    for gi, (n, d) in zip(grad, counts):
        for k in d:
            for l in d:
                pk, pl = d[k] / n, d[l] / n
                total += gi[k] * gi[l] * ((pk if k == l else 0) - pk * pl) / n
    return total


def jackknife_variance(grad, counts, s):
    """Sum over clusters of the squared influence on a quantity with these derivatives by the proportions."""
    days = s.days()
    influence = {}
    for i in s.rows:
        u = Q(0)
        for gi, day, (n, d) in zip(grad, days, counts):
            if not s.at_risk(i, day):
                continue
            for k in d:
                hit = 1 if s.exit[i] == day and s.cause[i] == k else 0
                u += gi[k] * (hit - d[k] / n) / n
        key = i if s.cluster is None else s.cluster[i]
        influence[key] = influence.get(key, Q(0)) + s.w(i) * u
    return sum((x * x for x in influence.values()), Q(0))


def jackknife_by_differences(s, k, j):
    """The same from finite differences of the estimate in the weights; an approximate check."""
    h = Q(1, 10**9)
    causes = sorted({c for c in s.cause if c} | {k})
    days = s.days()
    influence = {}
    for i in s.rows:
        if s.w(i) == 0:
            continue
        f = []
        for step in (h, -h):
            w = [s.w(r) for r in s.rows]
            w[i] += step
            t = Sample(s.exit, s.cause, s.entry, w, s.cluster)
            assert t.days() == days
            f.append(incidence([{c: d[c] / n for c in d} for n, d in t.counts(causes)], k)[j])
        key = i if s.cluster is None else s.cluster[i]
        influence[key] = influence.get(key, Q(0)) + s.w(i) * (f[0] - f[1]) / (2 * h)
    return sum((x * x for x in influence.values()), Q(0))


def widths(days, tau):
    """Length of the part of [day j, day j+1) that lies in [0, tau]."""
    ends = days[1:] + [max(tau, days[-1])]
    return [max(Q(0), min(Q(e), Q(tau)) - max(Q(0), Q(min(b, tau)))) for b, e in zip(days, ends)]


def quantile(days, surv, p):
    for j, s in enumerate(surv):
        if s < 1 - p:
            return Q(days[j])
        if s == 1 - p:
            later = [days[r] for r in range(j + 1, len(surv)) if surv[r] < s]
            return (Q(days[j]) + (later[0] if later else days[-1])) / 2
    return None


def closed_form(counts, k, j):
    """Marubini & Valsecchi (1995): three sums, which divide by n-d."""
    p = [{c: d[c] / n for c in d} for n, d in counts]
    f = incidence(p, k)
    q = [1 - sum(x.values()) for x in p]
    total = Q(0)
    for i in range(j + 1):
        n, d = counts[i]
        a, before, rest = sum(d.values(), Q(0)), product(q[:i]), f[j] - f[i]
        if rest:
            total += rest * rest * a / (n * (n - a)) - 2 * rest * before * d[k] / (n * n)
        total += before * before * d[k] * (n - d[k]) / n**3
    return total


def step_by_step(counts, k):
    """The recursion a program would carry forward; used here only to be compared with the definition."""
    s, f, v, c, w, out = Q(1), Q(0), Q(0), Q(0), Q(0), []
    for n, d in counts:
        a, all_ = d[k] / n, sum(d.values(), Q(0))
        q = 1 - all_ / n
        w += 2 * a * c + a * a * v + s * s * d[k] * (n - d[k]) / n**3
        c = q * (c + a * v) - s * s * d[k] * (n - all_) / n**3
        f += s * a
        v = q * q * v + s * s * all_ * (n - all_) / n**3
        s *= q
        out.append((f, w))
    return out


def expectation(s, causes, k, estimand, robust, tau=None, quantiles=()):
    if estimand != "cumulative-incidence":
        s, causes = s.only(k), [k]
    days, counts = s.days(), s.counts(causes)
    p = [{c: d[c] / n for c in d} for n, d in counts]
    m = len(days)
    if estimand == "nelson-aalen":
        value = [sum((x[k] for x in p[:j + 1]), Q(0)) for j in range(m)]
        g = [[{k: Q(1 if i <= j else 0)} for i in range(m)] for j in range(m)]
        plain = [sum((d[k] / (n * n) for n, d in counts[:j + 1]), Q(0)) for j in range(m)]
    else:
        value = incidence(p, k)
        g = incidence_derivatives(p, k)
        plain = [delta_variance(g[j], counts) for j in range(m)]
        assert [x for _, x in step_by_step(counts, k)] == plain
        assert [x for x, _ in step_by_step(counts, k)] == value
        assert [closed_form(counts, k, j) for j in range(m)] == plain
    if estimand == "kaplan-meier":
        surv = [product(1 - x[k] for x in p[:j + 1]) for j in range(m)]
        assert value == [1 - x for x in surv]
        for j in range(m):
            greenwood = Q(0)
            if surv[j] != 0:
                greenwood = surv[j]**2 * sum((d[k] / (n * (n - d[k])) for n, d in counts[:j + 1]), Q(0))
            assert greenwood == plain[j]
    ij = [jackknife_variance(g[j], counts, s) for j in range(m)]
    if estimand != "nelson-aalen":
        if s.weight is None and s.cluster is None and s.entry is None:
            assert ij == plain  # without weights, clusters and late entry the two are one formula
        if robust:
            for j in range(m):
                assert abs(jackknife_by_differences(s, k, j) - ij[j]) < Q(1, 10**15)
    variance = ij if robust else plain
    out = {"estimand": estimand, "cause": k,
           "variance": "infinitesimal-jackknife" if robust else ("aalen" if estimand == "nelson-aalen" else "greenwood")}
    out["points"] = [{"time": days[j], "at_risk": number(counts[j][0]), "events": number(counts[j][1][k]),
                      "estimate": str(value[j]), "variance": str(variance[j])} for j in range(m)]
    if estimand != "nelson-aalen" and not robust:
        methods = ["log-log", "plain"] + (["log", "beta-product"] if estimand == "kaplan-meier" else [])
        for j, point in enumerate(out["points"]):
            limits = None
            if value[j] == 0:
                y = seen_to(counts, j)
                limits = [0, 1 - 0.025 ** float(1 / y)]
            elif value[j] == 1 and s.entry is None and 0 not in s.cause:
                limits = [0.025 ** (1 / len(s.exit)), 1]
            if limits:
                point["limits"] = {name: limits for name in methods}
    if estimand == "kaplan-meier" and quantiles:
        out["quantiles"] = [{"p": x, "time": None if t is None else number(t)}
                            for x in quantiles for t in [quantile(days, surv, Q(x))]]
    if tau is not None and estimand != "nelson-aalen":
        wd = widths(days, tau)
        lost = sum((a * b for a, b in zip(wd, value)), Q(0))
        grad = [{l: sum((wd[j] * g[j][i][l] for j in range(m)), Q(0)) for l in causes} for i in range(m)]
        v = jackknife_variance(grad, counts, s) if robust else delta_variance(grad, counts)
        out["restricted_mean"] = [{"tau": tau, "mean": str(tau - lost if estimand == "kaplan-meier" else lost),
                                   "variance": str(v)}]
    return out


def seen_to(counts, j):
    """As many as would have been seen to day j had no event removed anybody before."""
    n, d = counts[j]
    here = n - sum(d.values(), Q(0))
    free = product(1 - sum(d.values(), Q(0)) / n for n, d in counts[:j + 1])
    if free:
        return here / free
    before = product(1 - sum(d.values(), Q(0)) / n for n, d in counts[:j])
    return n / before if before else seen_to(counts, j - 1)


def number(x):
    """A Fraction as the JSON number that is exactly equal to it."""
    if x.denominator == 1:
        return int(x)
    assert Q(float(x)) == x
    return float(x)


def case(name, source, s, causes, tau=None, quantiles=(), note="", robust=False):
    ks = list(range(1, causes + 1))
    expect = []
    for estimand in ("kaplan-meier", "cumulative-incidence", "nelson-aalen"):
        for k in ks:
            expect.append(expectation(s, ks, k, estimand, robust, tau, quantiles))
    return {"name": name, "source": source,
            "sample": {"entry": s.entry, "exit": s.exit, "cause": s.cause, "weight": s.weight, "cluster": s.cluster},
            "causes": causes, "expect": expect, "tolerance": 1e-12, "note": note}


def cases():
    hand = "hand-worked, in fractions, by testdata/hand/work.py"
    yield case("ties-between-causes", hand,
               Sample([1, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6], [1, 2, 0, 1, 1, 2, 0, 1, 2, 1, 0, 1]), 2, 6, (0.25, 0.5),
               "Two causes and censoring share days; the variance of F_1 falls at the end.")
    yield case("ten-hips", hand, Sample(list(range(1, 11)), [1, 2, 0, 1, 2, 0, 1, 0, 2, 0]), 2, 8, (0.25, 0.5),
               "1 revision, 2 death, 0 censored; no ties.")
    yield case("every-tie", hand,
               Sample([4, 4, 4, 4, 4, 4, 2, 2, 7, 7, 7, 9, 9, 9], [1, 1, 2, 0, 0, 3, 1, 0, 2, 3, 0, 1, 2, 0]), 3, 8, (0.25, 0.5),
               "Day 4: two events of cause 1, one each of causes 2 and 3, two censored. Day 2 and 9: event with censoring.")
    yield case("day-zero", hand, Sample([0, 0, 0, 0, 3, 5, 5, 8], [1, 1, 2, 0, 1, 0, 2, 0]), 2, 6, (0.25, 0.5),
               "Events of both causes and censoring on day 0.")
    yield case("all-fail", hand, Sample([1, 2, 2, 3, 5], [1, 1, 1, 1, 1]), 1, 5, (0.25, 0.5),
               "No censoring: S is the empirical proportion, the variance binomial, S ends at 0 with variance 0.")
    yield case("all-fail-one-day", hand, Sample([4, 4, 4], [1, 1, 1]), 1, 6, (0.5,), "Everybody fails on one day.")
    yield case("all-fail-two-causes", hand, Sample([1, 1, 2, 3, 3, 3], [1, 2, 1, 2, 1, 2]), 2, 4, (),
               "No censoring: F_k is the proportion failed of cause k and its variance F(1-F)/n.")
    yield case("none-fail", hand, Sample([2, 5, 5, 9], [0, 0, 0, 0]), 1, 7, (0.5,), "Censored rows only.")
    yield case("only-the-other-cause", hand, Sample([2, 5, 5, 9], [2, 0, 2, 0]), 2, 7, (0.5,),
               "No event of cause 1, events of cause 2.")
    yield case("one-row-event", hand, Sample([3], [1]), 1, 5, (0.5,), "One row, an event.")
    yield case("one-row-censored", hand, Sample([3], [0]), 1, 3, (0.5,), "One row, censored.")
    yield case("one-row-other-cause", hand, Sample([3], [2]), 2, 3, (0.5,), "One row, an event of cause 2.")
    yield case("one-row-day-zero", hand, Sample([0], [1]), 1, 2, (0.5,), "One row, an event on day 0.")
    yield case("flat-at-one-half", hand, Sample([1, 2, 4, 7, 9, 11, 11, 12], [1, 1, 1, 1, 0, 1, 0, 0]), 1, 10, (0.25, 0.5),
               "S is 3/4 on [2, 4) and 1/2 on [7, 11): the quantiles are the middles, 3 and 9.")
    yield case("flat-at-one-half-to-the-end", hand, Sample([1, 2, 3, 3], [1, 1, 0, 0]), 1, 3, (0.5,),
               "S is 1/2 from day 2 to the last day, 3: the median is the middle, 2.5.")
    yield case("late-entry-on-event-day", hand,
               Sample([3, 3, 5, 5, 5, 8, 8, 9], [1, 0, 1, 2, 0, 1, 0, 2], [-1, 0, 3, 1, 3, 5, 3, 5]), 2, 8, (0.25,),
               "Rows that enter on days 3 and 5 are not at risk for the events of days 3 and 5; entry -1 is before day 0.")
    yield case("late-entry-day-zero", hand, Sample([0, 0, 2, 4, 4], [1, 0, 1, 2, 0], [-1, -1, 0, 0, 1]), 2, 4, (),
               "Events on day 0 with rows that enter on day 0 and are at risk only after it.")
    yield case("late-entry-everybody-failed-early", hand, Sample([1, 1, 4, 6, 6], [1, 1, 1, 0, 1], [0, 0, 2, 2, 3]), 1, 6, (0.5,),
               "All at risk fail on day 1; the rows that enter later cannot change an estimate that has reached 1.")
    yield case("late-entry-gap", hand, Sample([2, 3, 7, 8, 8, 9], [1, 0, 1, 2, 0, 0], [0, 0, 5, 5, 4, 5]), 2, 9, (),
               "Nobody is at risk from day 3 to day 4; the estimate stays where it is.")
    base = Sample([1, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6], [1, 2, 0, 1, 1, 2, 0, 1, 2, 1, 0, 1])
    extra = Sample(base.exit + [1, 2, 10, 4], base.cause + [1, 2, 1, 0], weight=[1] * 12 + [0] * 4)
    with_zero = case("zero-weights", hand, extra, 2, 6, (0.25, 0.5),
                     "ties-between-causes with four rows of weight 0 added, one of them later than all others: nothing changes.", True)
    without = case("", "", base, 2, 6, (0.25, 0.5))
    for a, b in zip(with_zero["expect"], without["expect"]):
        if a["estimand"] != "nelson-aalen":
            assert {**a, "variance": 0} == {**b, "variance": 0}
    yield with_zero
    weight = [1, 2, 0.5, 1, 3, 1, 1.5, 2, 1, 0.5, 2, 1]
    cluster = [1, 1, 2, 3, 2, 4, 5, 5, 6, 6, 7, 8]
    yield case("weights", hand, Sample(base.exit, base.cause, weight=weight), 2, 6, (0.25,),
               "Sampling weights; infinitesimal jackknife.", True)
    yield case("clusters", hand, Sample(base.exit, base.cause, cluster=cluster), 2, 6, (0.25,),
               "Clusters of one or two rows; grouped infinitesimal jackknife.", True)
    yield case("weights-and-clusters", hand, Sample(base.exit, base.cause, weight=weight, cluster=cluster), 2, 6, (0.25,),
               "Both at once.", True)
    yield case("weights-and-late-entry", hand,
               Sample([3, 3, 5, 5, 5, 8, 8, 9], [1, 0, 1, 2, 0, 1, 0, 2], [-1, 0, 3, 1, 3, 5, 3, 5], [1, 2, 0.5, 1, 2, 1, 1, 0.5]), 2, 8, (),
               "Sampling weights with late entry on event days.", True)


def check_printed():
    """Fractions that were worked elsewhere, for the twelve rows with ties."""
    s = Sample([1, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6], [1, 2, 0, 1, 1, 2, 0, 1, 2, 1, 0, 1])
    f1 = expectation(s, [1, 2], 1, "cumulative-incidence", False)["points"]
    f2 = expectation(s, [1, 2], 2, "cumulative-incidence", False)["points"]
    assert [x["estimate"] for x in f1] == ["1/12", "29/108", "29/108", "41/108", "53/108", "65/108"]
    assert [x["variance"] for x in f1] == ["11/1728", "7433/419904", "7433/419904", "48373/2099520", "52957/2099520", "50917/2099520"]
    assert f2[4]["estimate"] == "31/108"
    assert 1 - Q(f1[5]["estimate"]) - Q(f2[5]["estimate"]) == Q(1, 9)


def text(c):
    """JSON with one point a line."""
    one = lambda x: json.dumps(x, ensure_ascii=False)
    lines = ["{", f'  "name": {one(c["name"])},', f'  "source": {one(c["source"])},', '  "sample": {']
    lines.append(",\n".join(f'    "{k}": {one(v)}' for k, v in c["sample"].items()) + "\n  },")
    lines.append(f'  "causes": {c["causes"]},')
    blocks = []
    for e in c["expect"]:
        parts = [f'"{k}": {one(e[k])}' for k in ("estimand", "cause", "variance")]
        body = "    {" + ", ".join(parts)
        for k in ("points", "quantiles", "restricted_mean"):
            if k in e:
                body += f',\n      "{k}": [\n        ' + ",\n        ".join(one(x) for x in e[k]) + "\n      ]"
        blocks.append(body + "}")
    lines.append('  "expect": [\n' + ",\n".join(blocks) + "\n  ],")
    lines.append(f'  "tolerance": {c["tolerance"]},')
    lines.append(f'  "note": {one(c["note"])}')
    return "\n".join(lines) + "\n}\n"


def main():
    folder = sys.argv[1] if len(sys.argv) > 1 else HERE
    check_printed()
    for c in cases():
        t = text(c)
        json.loads(t)
        with open(os.path.join(folder, c["name"] + ".json"), "w", encoding="utf-8") as f:
            f.write(t)


if __name__ == "__main__":
    main()
