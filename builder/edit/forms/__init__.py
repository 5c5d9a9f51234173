"""The forms: what they ask, what they show, and what is to be written of what they were filled in with.

A form is the schema: ``form_shapes`` walks the JSON Schema, ``field_words`` has label, help and pick list of every
key. A new key of the model needs one row there and a place in ``SECTIONS``; a test says so. Nothing is opened here:
what a form needs is handed in, and what is to be written is returned.
"""
