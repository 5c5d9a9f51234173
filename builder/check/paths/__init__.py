"""The path analysis: does the operation hold together on every path through it?

A procedure's sequence is unfolded into a graph of steps, forks and joins (``graph``). Everything that is watched (is
this nerve seen, is a clamp on this vessel, how many of these swabs are in this cavity) is a small automaton, and each
action moves some of them (``structures``, ``items``, ``counts``). The fact kept for an automaton is the *set of states
it can be in*; where paths meet, the sets unite (``flow``). Every rule asks one automaton at one point, so the answer
is exact: what must hold is "no other state is possible", what may hold is "this state is possible".

Facts are kept apart by the choices that are followed later, and only by those and only until the last ``follow``, so
that no path counts which cannot be walked. The cost is that of reading the sequence once, however many paths there are.

Where a rule fails, the shortest path on which it fails and the choices that bring it about are looked for
(``witness``). Nothing here reads or writes.
"""
