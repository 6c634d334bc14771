"""Settings: who writes, units, instruments and what each can decide, rules, rubric, stock, the shop and its devices."""
