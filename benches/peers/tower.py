"""The work of `rules.yaml` on a tower, as one would write it with networkx: the load of every drain, whether its size
carries it and the smallest that does, the length of every trap arm and whether that is too long.

Reads the tower and the tables as JSON, prints how long the work took (the best of several times, reading left out) and,
after it, every answer on a line."""

import json
import sys
import time

import networkx as nx


def work(graph, vented_here, tables):
    answers = []
    load, air = {}, {}
    for node in nx.topological_sort(graph):
        data = graph.nodes[node]
        carried = tables["loads"].get(data.get("type"), 0)
        brings_air = node in vented_here
        for upper, _, _ in graph.in_edges(node, keys=True):
            carried += load[upper]
            brings_air = brings_air or air[upper]
        load[node], air[node] = carried, brings_air
    for upper, lower, pipe in graph.edges(data=True):
        column = {("branch", False): "branch", ("stack", True): "stack"}.get((pipe["kind"], pipe["vertical"]))
        if column is None:
            continue
        limits = tables[column]
        carried = load[upper]
        limit = limits[pipe["size"]]
        if limit is None or carried <= limit:
            answers.append((0 if column == "branch" else 1, pipe["id"], carried, True, ""))
        else:
            needed = next(size for size, most in limits.items() if most is None or carried <= most)
            answers.append((0 if column == "branch" else 1, pipe["id"], carried, False, needed))
    for node, data in graph.nodes(data=True):
        trap = data.get("trap")
        if trap is None or data["type"] == "water_closet":
            continue
        length, here = 0, node
        while True:
            (_, below, pipe), = graph.out_edges(here, data=True)
            length += pipe["length"]
            if below in vented_here:
                break
            if any(upper != here and air[upper] for upper in graph.predecessors(below)):
                break
            here = below
        answers.append((2, data["id"], length, length <= tables["arms"][trap], ""))
    return answers


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        tower = json.load(file)
    graph = nx.MultiDiGraph()
    for node in tower["nodes"]:
        graph.add_node(node["id"], **node)
    vented_here = set()
    for pipe in tower["pipes"]:
        if pipe["drain"]:
            graph.add_edge(pipe["from"], pipe["to"], **pipe)
        else:
            vented_here.add(pipe["from"])
    tables = {name: dict(pairs) for name, pairs in tower["tables"].items()}
    best = None
    for _ in range(int(sys.argv[2])):
        start = time.perf_counter()
        answers = work(graph, vented_here, tables)
        taken = time.perf_counter() - start
        best = taken if best is None else min(best, taken)
    print(best)
    for rule, element, measured, holds, needed in sorted(answers):
        print(rule, element, measured, int(holds), needed)


main()
