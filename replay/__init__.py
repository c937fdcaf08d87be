"""The whole job without hardware: recorded bytes, a simulated analyzer, a virtual bench."""
