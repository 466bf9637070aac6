"""Which terminals lie beyond an item, seen from the sources.

A terminal lies beyond an item where some way from a source to it, passing no terminal twice, passes the item. That
is so exactly where the item is in one of the blocks (parts that no single terminal divides) between the sources,
taken as one point, and the terminal. Hopcroft and Tarjan 1973, without recursion: linear in the number of links.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from vesselspec.network.graph import Network


def beyond(
    network: Network, sources: Iterable[int], items: Iterable[int], *, links: Collection[int] = ()
) -> frozenset[int]:
    """The terminals beyond any of the terminals `items`, those that the sources reach themselves included.

    Beyond one of the `links` is what a way through it comes to; its near end is not, nor what else lands there.
    """
    root = len(network.terminals)
    wanted = set(items)
    around: list[list[int]] = [[] for _ in range(root + 1)]

    def join(a: int, b: int) -> None:
        around[a].append(b)
        around[b].append(a)

    for number, link in enumerate(network.links):
        if link.a == link.b:
            continue
        if number in links:  # a point of its own in the middle of it
            wanted.add(len(around))
            around.append([])
            join(link.a, len(around) - 1)
            join(link.b, len(around) - 1)
        else:
            join(link.a, link.b)
    for source in set(sources):
        join(root, source)
    passed: set[int] = set()
    # Blocks come deepest first: backwards, the one through which a block is entered has had its turn.
    for entry, block in reversed(_blocks(around, root)):
        if entry in passed or entry in wanted or not wanted.isdisjoint(block):
            passed.update(block)
    return frozenset(node for node in passed if node < root)


def _blocks(around: list[list[int]], root: int) -> list[tuple[int, list[int]]]:
    """The blocks that can be reached from the root: (terminal by which it is entered, all its others)."""
    depth, low = {root: 0}, {root: 0}
    blocks: list[tuple[int, list[int]]] = []
    trail: list[int] = []
    stack: list[tuple[int, int, int]] = [(root, -1, 0)]  # node, node it was entered from, next neighbour to look at
    while stack:
        node, above, at = stack.pop()
        if at < len(around[node]):
            stack.append((node, above, at + 1))
            there = around[node][at]
            if there in depth:
                low[node] = min(low[node], depth[there])
            else:
                depth[there] = low[there] = len(depth)
                trail.append(there)
                stack.append((there, node, 0))
        elif above >= 0:
            low[above] = min(low[above], low[node])
            if low[node] >= depth[above]:
                block = [trail.pop()]
                while block[-1] != node:
                    block.append(trail.pop())
                blocks.append((above, block))
    return blocks
