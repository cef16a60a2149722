"""Makes the loggers' files of this folder and expected.json, what each hour of
them holds: python3 testdata/loggers/make.py (Python 3.9 or newer, its zoneinfo).

The readings are made as instants first. Each file tells them as its logger would,
by a clock of its own; expected.json adds up the instants, so nothing in it has gone
through a file. Times of day and their changes are zoneinfo's, which takes them from
the IANA time zone database.
"""
import json
import os
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

HERE = os.path.dirname(os.path.abspath(__file__))
LISBON = ZoneInfo("Europe/Lisbon")
UTC = timezone.utc
WINTER = timezone(timedelta(0))  # Lisbon's


def readings(begin, minutes, count, gaps=()):
    """Instants with °C and % that repeat after no round number of rows."""
    for n in range(count):
        at = begin + timedelta(minutes=minutes * n)
        if not any(low <= at < high for low, high in gaps):
            yield at, 20 + (n * 7 % 37) / 10, 85 + (n * 3 % 11)


def hours(rows):
    sums = {}
    for at, temp, rh in rows:
        hour = at.astimezone(UTC).replace(minute=0, second=0, microsecond=0).strftime("%Y-%m-%dT%H:%M:%SZ")
        n, t, r = sums.get(hour, (0, 0, 0))
        sums[hour] = (n + 1, t + temp, r + rh)
    return {h: {"readings": n, "temp_c": round(t / n, 6), "rh_pct": round(r / n, 6)} for h, (n, t, r) in sums.items()}


def fahrenheit(rows):
    """The same with the temperature as a logger in °F tells it, to a tenth."""
    for at, temp, rh in rows:
        f = round(temp * 9 / 5 + 32, 1)
        yield at, (f - 32) * 5 / 9, rh, f


def comma(x):
    return f"{x:.1f}".replace(".", ",")


expected = {}


def keep(name, lines, rows, **fields):
    with open(os.path.join(HERE, name), "w", encoding="utf-8", newline="") as out:
        out.write("\r\n".join(lines) + "\r\n")
    expected[name] = {"fields": fields, "hours": hours(rows)}


def at(*parts):
    return datetime(*parts, tzinfo=UTC)


# Two holes, °F, semicolons and decimal commas; a row whose sensor said nothing.
rows = list(fahrenheit(readings(at(2026, 2, 3, 18), 10, 100, [(at(2026, 2, 3, 23, 20), at(2026, 2, 4, 5, 10)), (at(2026, 2, 4, 7), at(2026, 2, 4, 7, 40))])))
lines = ["Loft logger;7", "Date;Time;Temp (°F);Hum"]
for t, _, rh, f in rows:
    wall = t.astimezone(LISBON)
    lines.append(f"{wall:%d/%m/%Y};{wall:%H:%M};{comma(f)};{rh}")
lines.insert(20, "03/02/2026;21:05;---;---")
keep("gaps-fahrenheit.csv", lines, [r[:3] for r in rows])

# A clock 97 minutes slow: when it was noon it showed 10:23.
rows = list(readings(at(2026, 11, 20, 6), 15, 80))
lines = ["time,temperature_C,humidity"]
for t, temp, rh in rows:
    wall = (t - timedelta(minutes=97)).astimezone(LISBON)
    lines.append(f"{wall:%Y-%m-%d %H:%M:%S},{temp:.1f},{rh}")
keep("clock-slow.csv", lines, rows, shows="2026-11-25T10:23")

# Lisbon's clocks go forward: after 00:55 comes 02:00.
rows = list(readings(at(2026, 3, 28, 20), 5, 144))
lines = ["No.;When;Temperature [°C];Humidity [%]"]
for n, (t, temp, rh) in enumerate(rows):
    wall = t.astimezone(LISBON)
    lines.append(f"{n + 1};{wall:%d.%m.%Y %H:%M};{comma(temp)};{rh}")
keep("spring-night.csv", lines, rows)

# Lisbon's clocks go back: the hour from one to two comes twice. Month first, twelve hours.
rows = list(readings(at(2025, 10, 25, 20), 10, 72))
lines = ['"Date","Temperature (C)","Relative Humidity (%)"']
for t, temp, rh in rows:
    wall = t.astimezone(LISBON)
    hour = wall.hour % 12 or 12
    lines.append(f'"{wall:%m/%d/%Y} {hour}:{wall:%M:%S} {"AM" if wall.hour < 12 else "PM"}","{temp:.1f}","{rh}"')
keep("autumn-night.csv", lines, rows)

# A logger that keeps winter time all year, over the night when the clocks go back.
rows = list(readings(at(2026, 10, 24, 20), 10, 72))
lines = ["Date\tTime\tTemp\tRH"]
for t, temp, rh in rows:
    wall = t.astimezone(WINTER)
    lines.append(f"{wall:%Y-%m-%d}\t{wall:%H:%M:%S}\t{temp:.1f}\t{rh}")
keep("winter-clock.csv", lines, rows, zone="winter")

# All of it: °F, semicolons, a hole, a clock 97 minutes slow that goes back by itself.
rows = list(fahrenheit(readings(at(2026, 10, 24, 18), 10, 90, [(at(2026, 10, 25, 4, 30), at(2026, 10, 25, 6, 30))])))
lines = ["Date;Time;Temp (°F);Hum (%)"]
for t, _, rh, f in rows:
    wall = (t - timedelta(minutes=97)).astimezone(LISBON)
    lines.append(f"{wall:%d/%m/%Y};{wall:%H:%M};{comma(f)};{rh}")
keep("all-of-it.csv", lines, [r[:3] for r in rows], shows="2026-11-25T10:23")

with open(os.path.join(HERE, "expected.json"), "w", encoding="utf-8") as out:
    json.dump(expected, out, indent=1, sort_keys=True)
    out.write("\n")
