"""From a question and past cases to an answer: likeness, causes, fixes, plan, cautions."""
