"""What is kept: the models, the sessions, the migrations, backup and restore."""
