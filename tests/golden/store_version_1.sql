BEGIN TRANSACTION;
CREATE TABLE register_discrepancies (
	shop TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	field TEXT NOT NULL, 
	cell TEXT NOT NULL, 
	message TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	PRIMARY KEY (shop, sha256, place), 
	FOREIGN KEY(shop, sha256) REFERENCES register_jobs (shop, sha256) ON DELETE CASCADE
);
INSERT INTO "register_discrepancies" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',0,'unit_doubt','timing','Ignition!B4','Invented message','');
CREATE TABLE register_files (
	shop TEXT NOT NULL, 
	path TEXT NOT NULL, 
	size BIGINT NOT NULL, 
	modified_ns BIGINT NOT NULL, 
	sha256 TEXT NOT NULL, 
	judged_by TEXT NOT NULL, 
	status TEXT NOT NULL, 
	message TEXT NOT NULL, 
	PRIMARY KEY (shop, path)
);
INSERT INTO "register_files" VALUES('','2025/117.xlsx',1,1,'de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6','0.1.0/4','job','');
INSERT INTO "register_files" VALUES('','2025/118.xlsx',1,1,'b9c87d0afb5e59b970bfc7be2b2ca430667eaf72717499d16507b3a74a22cb06','0.1.0/4','job','');
CREATE TABLE register_findings (
	shop TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	cause TEXT NOT NULL, 
	system TEXT NOT NULL, 
	cylinders TEXT NOT NULL, 
	strength TEXT NOT NULL, 
	provisional BOOLEAN NOT NULL, 
	statement TEXT NOT NULL, 
	next_step TEXT NOT NULL, 
	caution TEXT NOT NULL, 
	rule TEXT NOT NULL, 
	source TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	PRIMARY KEY (shop, sha256, place), 
	FOREIGN KEY(shop, sha256) REFERENCES register_jobs (shop, sha256) ON DELETE CASCADE
);
INSERT INTO "register_findings" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',0,'late_timing','ignition','','confirmed',0,'Found late_timing.','Set it.','','','','');
CREATE TABLE register_info (
	name TEXT NOT NULL, 
	value TEXT NOT NULL, 
	PRIMARY KEY (name)
);
INSERT INTO "register_info" VALUES('schema_version','1');
INSERT INTO "register_info" VALUES('folder of ','/srv/jobs');
CREATE TABLE register_jobs (
	shop TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	typed_digest TEXT NOT NULL, 
	judged_by TEXT NOT NULL, 
	is_checked BOOLEAN NOT NULL, 
	units TEXT NOT NULL, 
	currency TEXT NOT NULL, 
	cylinders INTEGER NOT NULL, 
	job_number TEXT NOT NULL, 
	date_in DATE, 
	date_out DATE, 
	released_on DATE, 
	customer_name TEXT NOT NULL, 
	customer_contact TEXT NOT NULL, 
	technician TEXT NOT NULL, 
	vehicle TEXT NOT NULL, 
	vehicle_year INTEGER, 
	plate TEXT NOT NULL, 
	engine_serial TEXT NOT NULL, 
	engine_name TEXT NOT NULL, 
	odometer FLOAT, 
	odometer_unit TEXT NOT NULL, 
	complaint TEXT NOT NULL, 
	complaint_notes TEXT NOT NULL, 
	headline TEXT NOT NULL, 
	repair TEXT NOT NULL, 
	proof TEXT NOT NULL, 
	parts_used TEXT NOT NULL, 
	hours FLOAT NOT NULL, 
	parts_cents BIGINT NOT NULL, 
	labour_cents BIGINT NOT NULL, 
	tax_cents BIGINT NOT NULL, 
	total_cents BIGINT NOT NULL, 
	owed_tests INTEGER NOT NULL, 
	open_discrepancies INTEGER NOT NULL, 
	PRIMARY KEY (shop, sha256)
);
INSERT INTO "register_jobs" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6','996f30586463f4ec7d1d6cbebef9eada58330c4f1f207698c3e11ee62cecbf3d','0.1.0/4',1,'us','$',4,'117','2025-03-03','2025-03-04',NULL,'Invented customer','','','Invented van',NULL,'SAMPLE 1','INV-1','Invented four',50000.0,'mi','lacks power','','No fault found.','','no repair','',1.5,1240,7250,99,12345,0,0);
INSERT INTO "register_jobs" VALUES('','b9c87d0afb5e59b970bfc7be2b2ca430667eaf72717499d16507b3a74a22cb06','86ec07a4d50d721d139e8692930f70ad6486a540520a82e0480c3eaeded42b08','0.1.0/4',1,'us','$',4,'118','2025-03-03','2025-03-04',NULL,'Ünvented '' customer','','','Invented van',NULL,'SAMPLE 1','INV-1','Invented four',50000.0,'mi','lacks power','','No fault found.','','no repair','',1.5,1240,7250,99,8589,0,0);
CREATE TABLE register_readings (
	shop TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	number INTEGER NOT NULL, 
	unit TEXT NOT NULL, 
	found FLOAT, 
	left_as FLOAT, 
	PRIMARY KEY (shop, sha256, place), 
	FOREIGN KEY(shop, sha256) REFERENCES register_jobs (shop, sha256) ON DELETE CASCADE
);
INSERT INTO "register_readings" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',0,'compression_dry',1,'psi',110.0,149.0);
INSERT INTO "register_readings" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',1,'compression_dry',2,'psi',150.0,150.0);
INSERT INTO "register_readings" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',2,'compression_dry',3,'psi',148.0,148.0);
INSERT INTO "register_readings" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',3,'compression_dry',4,'psi',151.0,151.0);
CREATE TABLE register_repairs (
	shop TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	cause TEXT NOT NULL, 
	work TEXT NOT NULL, 
	proof TEXT NOT NULL, 
	PRIMARY KEY (shop, sha256, place), 
	FOREIGN KEY(shop, sha256) REFERENCES register_jobs (shop, sha256) ON DELETE CASCADE
);
INSERT INTO "register_repairs" VALUES('','de2d3226ba2593f19647770da4e1d83401b8fb870c8dd42adbc0b246f497bce6',0,'late_timing','set it','proven');
CREATE INDEX register_files_by_content ON register_files (shop, sha256);
COMMIT;
