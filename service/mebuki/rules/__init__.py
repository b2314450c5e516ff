"""Care rules: a case in, advice out. Rules do not know one another."""
