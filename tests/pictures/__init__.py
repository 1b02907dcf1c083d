"""Pictures of tables and of graphs, with what stands behind them."""
