"""The invented company of the demo, told in fixtures/demo.json and lived through the workflows."""
