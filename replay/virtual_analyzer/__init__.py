"""The simulated analyzer: the wires it speaks, its receiver, where it is hosted."""
