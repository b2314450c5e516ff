"""The steps of a round over ports: look, plan, publish, deliver."""
