"""Runs the count in SQL and prints its counts as lines of JSON, one for each path that comes by standard input."""

import json
import sys
import time

import duckdb

NAMES = ["runner", "thin", "hole", "stem", "hardness"]


def pair(name):
    return "3 * old + new" if name == "runner" else name


def main():
    text = open(sys.argv[1], encoding="utf-8").read()
    # Each of nine ways from one stand to another is a column, counted for a boat and then for all boats.
    sums = [f"count(*) FILTER ({pair(name)} = {way}) AS {name}_{way}" for name in NAMES for way in range(9)]
    columns = [f"count(*) FILTER (3 * old + new = {way}) AS boat_{way}" for way in range(9)]
    columns += [f"CAST(sum({name}_{way}) AS BIGINT)" for name in NAMES for way in range(9)]
    text = text.replace("{sums}", ",\n".join(sums)).replace("{columns}", ",\n".join(columns))
    macros, query = text.rsplit(";\n\n", 1)
    connection = duckdb.connect()
    connection.execute(f"SET threads = {int(sys.argv[2])}")
    connection.execute("SET enable_progress_bar = false")
    connection.execute(macros)
    for line in sys.stdin:
        began = time.perf_counter()
        row = connection.execute(query.replace("{file}", line.strip())).fetchone()
        seconds = time.perf_counter() - began
        ways = [[list(row[9 * at + 3 * old : 9 * at + 3 * old + 3]) for old in range(3)] for at in range(6)]
        print(json.dumps({"seconds": seconds, "ways": ways}), flush=True)


main()
