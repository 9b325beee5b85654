"""Invented books, kept in Python with `decimal` and `fractions`.

The events are drawn here with a fixed seed. Amounts in other currencies are turned
over with `decimal` (ROUND_HALF_UP), costs are parted by largest remainders with
exact `fractions`, and profit and cost are summed the long way, piece by piece, without
accounts. Also the few rates that stand beside `Paid::in_home`.
"""

import random
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

CENT = Decimal("0.01")
COSTS = ["bought", "brought-in", "consumables", "time"]


def home(amount, rate, digits=2):
    value = Decimal(amount) * Decimal(rate or 1)
    return value.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


def shared(amount, weights):
    cents = int(amount / CENT)
    quotas = [Fraction(cents * w, sum(weights)) for w in weights]
    parts = [q.numerator // q.denominator for q in quotas]
    by_remainder = sorted(range(len(weights)), key=lambda k: parts[k] - quotas[k])
    for k in by_remainder[: cents - sum(parts)]:
        parts[k] += 1
    return [part * CENT for part in parts]


def paid(rng, low, high):
    amount = f"{rng.randint(low, high) * CENT}"
    code = rng.choice(["AUD", "AUD", "USD", "JPY"])
    if code == "AUD":
        return {"amount": amount, "code": code, "rate": None}
    if code == "JPY":
        return {"amount": str(rng.randint(low, high)), "code": code, "rate": f"0.0{rng.randint(90, 120)}"}
    return {"amount": amount, "code": code, "rate": f"1.{rng.randint(3000, 6999)}"}


def values():
    rng = random.Random(1792)
    held, sold, events = {}, {}, []
    profit, sales_cost = {}, {}
    n_pieces = 0

    def book(what, **fields):
        events.append({"what": what, **fields})
        return len(events)

    def add(item, cost, amount):
        held[item][cost] += amount

    def gain(item, amount):
        profit[item] = profit.get(item, Decimal(0)) + amount

    for _ in range(200):
        what = rng.choice("buy buy split split spend fee work work sell sell sell return lost overhead".split())
        if what == "buy":
            n_pieces += 1
            item = f"piece-{n_pieces}"
            price = paid(rng, 500, 90_000)
            book("bought", item=item, **price)
            held[item] = dict.fromkeys(COSTS, Decimal(0))
            add(item, "bought", home(price["amount"], price["rate"]))
        elif what == "overhead":
            amount = paid(rng, 1, 3000)
            book("spent", item=None, **amount)
            gain("-", -home(amount["amount"], amount["rate"]))
        elif what == "return" and sold:
            item = rng.choice(sorted(sold))
            number, price, costs = sold.pop(item)
            book("returned", sale=number, **price)
            gain(item, sum(costs.values()) - home(price["amount"], price["rate"]))
            held[item] = costs
        elif held:
            item = rng.choice(sorted(held))
            if what == "spend":
                amount = paid(rng, 1, 3000)
                book("spent", item=item, **amount)
                add(item, "consumables", home(amount["amount"], amount["rate"]))
            elif what == "fee":
                amount = paid(rng, 1, 3000)
                book("fee", item=item, **amount)
                add(item, "brought-in", home(amount["amount"], amount["rate"]))
            elif what == "work":
                minutes, hourly = rng.randint(1, 400), f"{rng.randint(1000, 6000) * CENT}"
                book("worked", item=item, minutes=minutes, hourly=hourly)
                add(item, "time", (Decimal(hourly) * minutes / 60).quantize(CENT, ROUND_HALF_UP))
            elif what == "split":
                names = [item] + [f"piece-{n_pieces + k}" for k in range(1, rng.randint(2, 4))]
                n_pieces += len(names) - 1
                weights = [rng.randint(0, 50_000) for _ in names]
                weights[0] += 1
                book("split", item=item, parts=[[n, w] for n, w in zip(names, weights)])
                old = held.pop(item)
                for name in names:
                    held[name] = {}
                for cost in COSTS:
                    for name, share in zip(names, shared(old[cost], weights)):
                        held[name][cost] = share
            elif what == "sell":
                price, fee = paid(rng, 0, 200_000), f"{rng.randint(0, 500) * CENT}"
                number = book("sold", item=item, fee=fee, **price)
                costs = held.pop(item)
                gain(item, home(price["amount"], price["rate"]) - Decimal(fee) - sum(costs.values()))
                sold[item] = (number, price, costs)
            elif what == "lost":
                book("lost", item=item)
                gain(item, -sum(held.pop(item).values()))
    rates = [
        ("500.00", "1.5312", 2), ("0.01", "1.5", 2), ("-0.01", "1.5", 2), ("0.01", "1.49", 2),
        ("12345", "0.0101", 2), ("100.00", "98.765", 0), ("1.234", "4.98765", 2),
    ]
    return {
        "events": events,
        "profit": {item: str(amount) for item, amount in sorted(profit.items())},
        "held": {item: str(sum(costs.values())) for item, costs in sorted(held.items())},
        "time_held": str(sum((costs["time"] for costs in held.values()), Decimal(0))),
        "profit_of_all": str(sum(profit.values())),
        "rates": [str(home(*rate)) for rate in rates],
    }
