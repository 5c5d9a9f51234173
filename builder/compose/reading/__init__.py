"""The screens of the reading room: what a draft looks like while its educator reads it, answers and puts it right."""
