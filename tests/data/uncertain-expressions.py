"""Makes uncertain-expressions.txt: random expressions with shared inputs, and what an independent implementation
of the law of propagation makes of them.

Needs the package GTC (GUM Tree Calculator) 1.5.1 and Python 3; run as `python uncertain-expressions.py > \
uncertain-expressions.txt`. It is not run by the tests.

Inputs are elementary uncertain numbers with finite or infinite degrees of freedom. GTC gives effective degrees of
freedom by Welch-Satterthwaite (GUM, G.4.1), as this program does; it tells more than a million as infinite, and such
expressions are not kept. Its functions have no absolute value, least or greatest: the branch is chosen here by
value, well away from ties.
"""

import random
import sys
from importlib.metadata import version

import GTC

SEED = 500
COUNT = 500


def number(rng):
    """A decimal of up to five digits, away from zero."""
    size = rng.randint(100, 99_999)
    return f"{'-' if rng.random() < 0.2 else ''}{size // 1000}.{size % 1000:03d}"


def expression(rng, depth, names):
    """A random expression in prefix form."""
    if depth == 0 or rng.random() < 0.12:
        if rng.random() < 0.15:
            return [number(rng)]
        return [rng.choice(names)]
    kind = rng.choices(["+", "-", "*", "/", "neg", "abs", "min", "max"], [5, 5, 5, 4, 1, 1, 1, 1])[0]
    count = 1 if kind in ("neg", "abs") else 2
    found = [kind]
    for _ in range(count):
        found += expression(rng, depth - 1, names)
    return found


class Near(Exception):
    """Too near a tie, a zero or an overflow to be a fair comparison."""


def value(words, inputs):
    """Evaluates a prefix expression, taking its words off the front."""
    word = words.pop(0)
    if word in inputs:
        return inputs[word]
    if word in ("neg", "abs"):
        a = value(words, inputs)
        if word == "neg":
            return -a
        if abs(GTC.value(a)) < 1e-3:
            raise Near
        return -a if GTC.value(a) < 0 else a
    if word in ("+", "-", "*", "/", "min", "max"):
        a, b = value(words, inputs), value(words, inputs)
        if word == "+":
            return a + b
        if word == "-":
            return a - b
        if word == "*":
            return a * b
        if word == "/":
            if abs(GTC.value(b)) < 1e-2:
                raise Near
            return a / b
        x, y = GTC.value(a), GTC.value(b)
        if abs(x - y) < 1e-3 * max(abs(x), abs(y), 1.0):
            raise Near
        return a if (x < y) == (word == "min") else b
    return float(word)


def main():
    rng = random.Random(SEED)
    print("# Random expressions with shared inputs, and value, standard uncertainty and effective degrees of freedom")
    print(f"# by an independent implementation: the Python package GTC {version('GTC')} (GUM Tree Calculator).")
    print(f"# Made by uncertain-expressions.py with seed {SEED}.")
    print("# inputs `name=value,u,degrees of freedom` | expression in prefix form | value | u | degrees of freedom")
    done = 0
    while done < COUNT:
        names = [chr(ord("a") + i) for i in range(rng.randint(2, 6))]
        given, inputs = [], {}
        for name in names:
            x = number(rng)
            u = f"{rng.randint(1, 999) / 10_000:.4f}"
            nu = rng.choice(["inf", "inf", str(rng.randint(1, 30)), f"{rng.uniform(1, 60):.3f}"])
            given.append(f"{name}={x},{u},{nu}")
            inputs[name] = GTC.ureal(float(x), float(u), float(nu), label=name)
        words = expression(rng, rng.randint(2, 6), names)
        used = [word for word in words if word in inputs]
        # At least one input enters twice.
        if len(used) == len(set(used)):
            continue
        try:
            y = value(list(words), inputs)
        except Near:
            continue
        if isinstance(y, float):
            continue
        x, u, nu = GTC.value(y), GTC.uncertainty(y), GTC.dof(y)
        if not (1e-4 < u < 1e6 and 1e-3 < abs(x) < 1e6):
            continue
        if nu != float("inf") and nu > 1e5:
            continue
        print(f"{' '.join(given)} | {' '.join(words)} | {x:.17g} | {u:.17g} | {nu:.17g}")
        done += 1


if __name__ == "__main__":
    sys.exit(main())
