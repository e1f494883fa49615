"""Where the ends of the net meet."""

from __future__ import annotations

from boscage.rigging.closing import choose_closure


def test_on_the_first_contact_that_is_a_tree(rings):
    ring = rings.regular(6, 3.0, posts=(0,), spacing_m=10.0)
    closure = choose_closure(ring)
    assert closure.on_tree
    assert closure.place == (ring.contacts[1].x_m, ring.contacts[1].y_m)
    assert closure.text.startswith("At contact 2 (stem 2).")
    assert "same tie" in closure.text


def test_with_posts_alone_on_the_shortest_span_without_a_built_support(rings):
    ring = rings.regular(6, 3.0, posts=range(6), spacing_m=10.0)
    stretched = [(c.x_m * 1.3, c.y_m) for c in ring.contacts]
    ring = rings.ring_from(stretched, [None] * 6, ring.options)
    closure = choose_closure(ring)
    assert not closure.on_tree
    shortest = min(ring.spans, key=lambda s: s.length_m)
    assert closure.place == (ring.contacts[shortest.first].x_m, ring.contacts[shortest.first].y_m)
    built = rings.regular(6, 3.0, posts=range(6), spacing_m=2.0)
    assert choose_closure(built).text.startswith("At post 1.")
