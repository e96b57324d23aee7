-- A backup names the migrations that its rows were written under; the serving role writes backups.
GRANT SELECT ON schema_migration TO threadleaf_app;
