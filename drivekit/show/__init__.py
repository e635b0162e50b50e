"""All that a person looks at: words, figures, controls, page; drawn from results, never from files."""
