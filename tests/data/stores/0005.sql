PRAGMA application_id = 1952543595;
BEGIN TRANSACTION;
CREATE TABLE accepted_finding (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	set_id INTEGER NOT NULL, 
	finding TEXT NOT NULL, 
	rule TEXT NOT NULL, 
	accepted BOOLEAN NOT NULL, 
	why TEXT NOT NULL, 
	operation_id INTEGER NOT NULL, 
	checksum TEXT, 
	CONSTRAINT fk_accepted_finding_set_id_waypoint_set FOREIGN KEY(set_id) REFERENCES waypoint_set (id), 
	CONSTRAINT fk_accepted_finding_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE airspace (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	newest INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	CONSTRAINT uq_airspace_name UNIQUE (name), 
	CONSTRAINT fk_airspace_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE airspace_revision (
	airspace_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	added INTEGER NOT NULL, 
	changed INTEGER NOT NULL, 
	retired INTEGER NOT NULL, 
	source TEXT, 
	checksum TEXT, 
	CONSTRAINT pk_airspace_revision PRIMARY KEY (airspace_id, number), 
	CONSTRAINT ck_airspace_revision_number CHECK (number >= 1), 
	CONSTRAINT fk_airspace_revision_airspace_id_airspace FOREIGN KEY(airspace_id) REFERENCES airspace (id), 
	CONSTRAINT fk_airspace_revision_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE airspace_volume (
	airspace_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	floor TEXT NOT NULL, 
	ceiling TEXT NOT NULL, 
	times TEXT, 
	frequency TEXT, 
	polygons TEXT NOT NULL, 
	CONSTRAINT pk_airspace_volume PRIMARY KEY (airspace_id, number, name), 
	CONSTRAINT fk_airspace_volume_airspace_id_number_airspace_revision FOREIGN KEY(airspace_id, number) REFERENCES airspace_revision (airspace_id, number)
);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0005');
CREATE TABLE contest (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	newest INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	CONSTRAINT uq_contest_name UNIQUE (name), 
	CONSTRAINT fk_contest_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "contest" VALUES(1,'Cup',2,2);
CREATE TABLE contest_airspace (
	contest_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	airspace_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	CONSTRAINT pk_contest_airspace PRIMARY KEY (contest_id, number, airspace_id), 
	CONSTRAINT fk_contest_airspace_contest_id_number_contest_revision FOREIGN KEY(contest_id, number) REFERENCES contest_revision (contest_id, number), 
	CONSTRAINT fk_contest_airspace_airspace_id_revision_airspace_revision FOREIGN KEY(airspace_id, revision) REFERENCES airspace_revision (airspace_id, number)
);
CREATE TABLE contest_class (
	contest_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	slowest_kmh FLOAT, 
	fastest_kmh FLOAT, 
	CONSTRAINT pk_contest_class PRIMARY KEY (contest_id, number, name), 
	CONSTRAINT fk_contest_class_contest_id_number_contest_revision FOREIGN KEY(contest_id, number) REFERENCES contest_revision (contest_id, number)
);
CREATE TABLE contest_day (
	contest_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	day INTEGER NOT NULL, 
	date TEXT, 
	start_opens TEXT, 
	wind_from_deg FLOAT, 
	wind_speed_kmh FLOAT, 
	speed_kmh FLOAT, 
	CONSTRAINT pk_contest_day PRIMARY KEY (contest_id, number, day), 
	CONSTRAINT fk_contest_day_contest_id_number_contest_revision FOREIGN KEY(contest_id, number) REFERENCES contest_revision (contest_id, number)
);
INSERT INTO "contest_day" VALUES(1,2,1,'2027-05-14',NULL,NULL,NULL,NULL);
CREATE TABLE contest_revision (
	contest_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	retired BOOLEAN NOT NULL, 
	name TEXT NOT NULL, 
	set_id INTEGER NOT NULL, 
	set_revision INTEGER NOT NULL, 
	site TEXT, 
	from_date TEXT, 
	to_date TEXT, 
	timezone TEXT, 
	rules TEXT NOT NULL, 
	settings TEXT NOT NULL, 
	checksum TEXT, 
	CONSTRAINT pk_contest_revision PRIMARY KEY (contest_id, number), 
	CONSTRAINT fk_contest_revision_set_id_set_revision_set_revision FOREIGN KEY(set_id, set_revision) REFERENCES set_revision (set_id, number), 
	CONSTRAINT fk_contest_revision_contest_id_contest FOREIGN KEY(contest_id) REFERENCES contest (id), 
	CONSTRAINT fk_contest_revision_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "contest_revision" VALUES(1,1,2,0,'Cup',1,1,'001',NULL,NULL,'Europe/Berlin','{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}','{}','b094c9c4');
INSERT INTO "contest_revision" VALUES(1,2,3,0,'Cup',1,1,'001',NULL,NULL,'Europe/Berlin','{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}','{}','9dbb2238');
CREATE TABLE contest_zone (
	contest_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	role TEXT NOT NULL, 
	zone TEXT NOT NULL, 
	CONSTRAINT pk_contest_zone PRIMARY KEY (contest_id, number, role), 
	CONSTRAINT fk_contest_zone_contest_id_number_contest_revision FOREIGN KEY(contest_id, number) REFERENCES contest_revision (contest_id, number)
);
CREATE TABLE flown_record (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	task_id INTEGER NOT NULL, 
	flown_on TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	wind_from_deg FLOAT, 
	wind_speed_kmh FLOAT, 
	cloud_base_m FLOAT, 
	starters INTEGER, 
	finishers INTEGER, 
	best_kmh FLOAT, 
	median_kmh FLOAT, 
	remarks TEXT, 
	operation_id INTEGER NOT NULL, 
	checksum TEXT, 
	log_starters INTEGER, 
	log_finishers INTEGER, 
	log_best_kmh FLOAT, 
	log_median_kmh FLOAT, 
	first_start TEXT, 
	last_start TEXT, 
	first_finish TEXT, 
	last_finish TEXT, 
	ended_near TEXT, 
	logs TEXT, 
	CONSTRAINT fk_flown_record_task_id_task FOREIGN KEY(task_id) REFERENCES task (id), 
	CONSTRAINT fk_flown_record_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "flown_record" VALUES(1,2,'2027-05-14',0,NULL,NULL,NULL,NULL,NULL,101.5,NULL,NULL,9,'018949d4',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "flown_record" VALUES(2,2,'2027-05-15',0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,12,'74d33eb6',3,2,98.7,92.4,'2027-05-15T11:02:03Z','2027-05-15T11:40:00Z','2027-05-15T13:59:59Z','2027-05-15T14:20:10Z','[["002",1]]','["00112233001122330011223300112233","0123456789abcdef0123456789abcdef","fedcba9876543210fedcba9876543210"]');
CREATE TABLE handout (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	contest_id INTEGER NOT NULL, 
	day INTEGER, 
	target TEXT NOT NULL, 
	to_whom TEXT, 
	operation_id INTEGER NOT NULL, 
	contest_revision INTEGER, 
	checksum TEXT, 
	CONSTRAINT fk_handout_contest_id_contest FOREIGN KEY(contest_id) REFERENCES contest (id), 
	CONSTRAINT fk_handout_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "handout" VALUES(1,1,1,'out/day',NULL,6,2,'3db04ff6');
CREATE TABLE handout_task (
	handout_id INTEGER NOT NULL, 
	task_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	fingerprint TEXT NOT NULL, 
	said TEXT, 
	CONSTRAINT pk_handout_task PRIMARY KEY (handout_id, task_id), 
	CONSTRAINT fk_handout_task_task_id_revision_task_revision FOREIGN KEY(task_id, revision) REFERENCES task_revision (task_id, number), 
	CONSTRAINT fk_handout_task_handout_id_handout FOREIGN KEY(handout_id) REFERENCES handout (id)
);
INSERT INTO "handout_task" VALUES(1,1,1,'A77H-H7FL','{"mark":null,"review":[],"stale":[]}');
CREATE TABLE operation (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at TEXT NOT NULL, 
	author TEXT NOT NULL, 
	command TEXT NOT NULL, 
	note TEXT, 
	undoes INTEGER, 
	checksum TEXT, 
	CONSTRAINT fk_operation_undoes_operation FOREIGN KEY(undoes) REFERENCES operation (id)
);
INSERT INTO "operation" VALUES(1,'2027-05-01T08:00:00Z','librarian','set import','the club''s list',NULL,'9e7054ab');
INSERT INTO "operation" VALUES(2,'2027-05-01T08:01:00Z','librarian','contest new',NULL,NULL,'34d2d50f');
INSERT INTO "operation" VALUES(3,'2027-05-01T08:02:00Z','librarian','contest day',NULL,NULL,'da3a5cb7');
INSERT INTO "operation" VALUES(4,'2027-05-01T08:03:00Z','librarian','task new',NULL,NULL,'392ac6a8');
INSERT INTO "operation" VALUES(5,'2027-05-01T08:04:00Z','librarian','task new',NULL,NULL,'73bc93a3');
INSERT INTO "operation" VALUES(6,'2027-05-01T08:05:00Z','librarian','handout',NULL,NULL,'a6e9851c');
INSERT INTO "operation" VALUES(7,'2027-05-01T08:06:00Z','librarian','set import',NULL,NULL,'7bbfce3c');
INSERT INTO "operation" VALUES(8,'2027-05-01T08:07:00Z','librarian','task edit',NULL,NULL,'41bd4dea');
INSERT INTO "operation" VALUES(9,'2027-05-01T08:08:00Z','librarian','task flown',NULL,NULL,'95f81264');
INSERT INTO "operation" VALUES(10,'2027-05-01T08:09:00Z','librarian','set label',NULL,NULL,'2d51c1dc');
INSERT INTO "operation" VALUES(11,'2027-05-01T08:10:00Z','librarian','undo',NULL,8,'7b49f62f');
INSERT INTO "operation" VALUES(12,'2027-05-01T08:11:00Z','librarian','flight read',NULL,NULL,'6131cec5');
CREATE TABLE set_label (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	set_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	label TEXT, 
	valid_from TEXT, 
	operation_id INTEGER NOT NULL, 
	checksum TEXT, 
	CONSTRAINT fk_set_label_set_id_number_set_revision FOREIGN KEY(set_id, number) REFERENCES set_revision (set_id, number), 
	CONSTRAINT fk_set_label_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "set_label" VALUES(1,1,2,'2027 edition','2027-05-01',10,'ee2ede95');
CREATE TABLE set_revision (
	set_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	count INTEGER NOT NULL, 
	added INTEGER NOT NULL, 
	changed INTEGER NOT NULL, 
	retired INTEGER NOT NULL, 
	checksum TEXT, 
	CONSTRAINT pk_set_revision PRIMARY KEY (set_id, number), 
	CONSTRAINT ck_set_revision_number CHECK (number >= 1), 
	CONSTRAINT fk_set_revision_set_id_waypoint_set FOREIGN KEY(set_id) REFERENCES waypoint_set (id), 
	CONSTRAINT fk_set_revision_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "set_revision" VALUES(1,1,1,4,4,0,0,'1:4449b898');
INSERT INTO "set_revision" VALUES(1,2,7,5,1,1,0,'5:6bb1db36 6:401cb32e');
CREATE TABLE task (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	contest_id INTEGER, 
	name TEXT NOT NULL, 
	newest INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	CONSTRAINT fk_task_contest_id_contest FOREIGN KEY(contest_id) REFERENCES contest (id), 
	CONSTRAINT fk_task_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "task" VALUES(1,1,'A',3,4);
INSERT INTO "task" VALUES(2,NULL,'B',2,5);
CREATE TABLE task_point (
	task_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	role TEXT NOT NULL, 
	identity TEXT, 
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	latitude_e7 INTEGER NOT NULL, 
	longitude_e7 INTEGER NOT NULL, 
	elevation_dm INTEGER, 
	zone_text TEXT NOT NULL, 
	zone_resolved TEXT NOT NULL, 
	zone_from TEXT NOT NULL, 
	CONSTRAINT pk_task_point PRIMARY KEY (task_id, revision, number), 
	CONSTRAINT fk_task_point_task_id_revision_task_revision FOREIGN KEY(task_id, revision) REFERENCES task_revision (task_id, number)
);
INSERT INTO "task_point" VALUES(1,1,0,'start','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":67.44077046321694,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(1,1,1,'turn','00000000000000000000000000000003','003','Tannwöhr',490510000,124730000,4970,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,1,2,'turn','00000000000000000000000000000004','004','Große Linde',486310000,123260000,4230,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,1,3,'finish','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":305.0662027275452,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(2,1,0,'start','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":67.44077046321694,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(2,1,1,'turn','00000000000000000000000000000003','003','Tannwöhr',490510000,124730000,4970,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(2,1,2,'turn','00000000000000000000000000000004','004','Große Linde',486310000,123260000,4230,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(2,1,3,'finish','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":305.0662027275452,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(1,2,0,'start','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":211.65205190300063,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(1,2,1,'turn','00000000000000000000000000000002','002','Kelmried',485610000,115220000,4670,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,2,2,'turn','00000000000000000000000000000004','004','Große Linde',486310000,123260000,4230,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,2,3,'finish','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":305.0662027275452,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(2,2,0,'start','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":67.44077046321694,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(2,2,1,'turn','00000000000000000000000000000003','003','Tannwöhr',490510000,124730000,4970,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(2,2,2,'turn','00000000000000000000000000000004','004','Große Linde',486310000,123260000,4230,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(2,2,3,'finish','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":305.0662027275452,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(1,3,0,'start','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":67.44077046321694,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
INSERT INTO "task_point" VALUES(1,3,1,'turn','00000000000000000000000000000003','003','Tannwöhr',490510000,124730000,4970,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,3,2,'turn','00000000000000000000000000000004','004','Große Linde',486310000,123260000,4230,'cylinder 500m','{"radius_m":500.0,"shape":"cylinder","text":"cylinder 500m"}','built-in');
INSERT INTO "task_point" VALUES(1,3,3,'finish','00000000000000000000000000000001','001','Ormsau',488720000,118105000,3890,'line 1km','{"axis_deg":305.0662027275452,"length_m":1000.0,"shape":"line","text":"line 1km"}','built-in');
CREATE TABLE task_revision (
	task_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	retired BOOLEAN NOT NULL, 
	name TEXT NOT NULL, 
	set_id INTEGER NOT NULL, 
	set_revision INTEGER NOT NULL, 
	contest_revision INTEGER, 
	type TEXT NOT NULL, 
	day INTEGER, 
	class TEXT, 
	variant TEXT, 
	status TEXT NOT NULL, 
	issued_at TEXT, 
	time_s INTEGER, 
	speed_kmh FLOAT, 
	rules TEXT NOT NULL, 
	free TEXT, 
	take_off TEXT, 
	landing TEXT, 
	tags TEXT NOT NULL, 
	words TEXT NOT NULL, 
	fingerprint TEXT NOT NULL, 
	centres_m FLOAT NOT NULL, 
	task_m FLOAT NOT NULL, 
	minimum_m FLOAT, 
	maximum_m FLOAT, 
	extremes TEXT, 
	shape TEXT NOT NULL, 
	fai_triangle BOOLEAN NOT NULL, 
	first_course_deg FLOAT, 
	checksum TEXT, 
	CONSTRAINT pk_task_revision PRIMARY KEY (task_id, number), 
	CONSTRAINT fk_task_revision_set_id_set_revision_set_revision FOREIGN KEY(set_id, set_revision) REFERENCES set_revision (set_id, number), 
	CONSTRAINT fk_task_revision_task_id_task FOREIGN KEY(task_id) REFERENCES task (id), 
	CONSTRAINT fk_task_revision_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "task_revision" VALUES(1,1,4,0,'A',1,1,2,'racing',1,NULL,NULL,'proposed',NULL,7200,NULL,'{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}',NULL,NULL,NULL,'[]',' 001 003 004 a grosse linde ormsau tannwoehr tannwohr ','A77H-H7FL',1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,NULL,'triangle',1,6.74407704632169355827e+01,'7192db58');
INSERT INTO "task_revision" VALUES(2,1,5,0,'B',1,1,NULL,'racing',NULL,NULL,NULL,'proposed',NULL,NULL,95.5,'{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}',NULL,NULL,NULL,'[]',' 001 003 004 b grosse linde ormsau tannwoehr tannwohr ','77L3-KYXA',1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,NULL,'triangle',1,6.74407704632169355827e+01,'1440ee9c');
INSERT INTO "task_revision" VALUES(1,2,8,0,'A',1,1,2,'racing',1,NULL,NULL,'proposed',NULL,7200,NULL,'{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}',NULL,NULL,NULL,'[]',' 001 002 004 a grosse kelmried linde ormsau ','9L7Y-X73M',1.46817642513762868471e+05,1.46817642513762868471e+05,1.46817642513762868471e+05,1.46817642513762868471e+05,NULL,'triangle',0,2.11652051903000625542e+02,'d74de4b9');
INSERT INTO "task_revision" VALUES(2,2,9,0,'B',1,1,NULL,'racing',NULL,NULL,NULL,'flown',NULL,NULL,95.5,'{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}',NULL,NULL,NULL,'[]',' 001 003 004 b grosse linde ormsau tannwoehr tannwohr ','77L3-KYXA',1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,NULL,'triangle',1,6.74407704632169355827e+01,'a18d814a');
INSERT INTO "task_revision" VALUES(1,3,11,0,'A',1,1,2,'racing',1,NULL,NULL,'proposed',NULL,7200,NULL,'{"closed_within_m":1000.0,"earth":"wgs84","finish_deduction":"less-radius","start_deduction":"less-radius","triangle":{"large_from_m":750000.0,"large_longest_percent":45.0,"large_shortest_percent":25.0,"small_shortest_percent":28.0,"start_on_side":true}}',NULL,NULL,NULL,'[]',' 001 003 004 a grosse linde ormsau tannwoehr tannwohr ','A77H-H7FL',1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,1.46799955970788956619e+05,NULL,'triangle',1,6.74407704632169355827e+01,'697fdc40');
CREATE TABLE waypoint_set (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	newest INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	checksum TEXT, 
	CONSTRAINT uq_waypoint_set_name UNIQUE (name), 
	CONSTRAINT fk_waypoint_set_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "waypoint_set" VALUES(1,'region',2,1,'4452604e');
CREATE TABLE waypoint_state (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	set_id INTEGER NOT NULL, 
	identity TEXT NOT NULL, 
	valid_from INTEGER NOT NULL, 
	valid_to INTEGER, 
	operation_id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	code_folded TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_folded TEXT NOT NULL, 
	latitude_e7 INTEGER NOT NULL, 
	longitude_e7 INTEGER NOT NULL, 
	elevation_dm INTEGER, 
	landable TEXT, 
	feature TEXT, 
	country TEXT, 
	radio TEXT, 
	runways TEXT, 
	description TEXT, 
	source TEXT, 
	inspected_on TEXT, 
	typed TEXT, 
	extras TEXT, 
	CONSTRAINT fk_waypoint_state_set_id_valid_from_set_revision FOREIGN KEY(set_id, valid_from) REFERENCES set_revision (set_id, number), 
	CONSTRAINT ck_waypoint_state_validity CHECK (valid_to IS NULL OR valid_to > valid_from), 
	CONSTRAINT ck_waypoint_state_latitude CHECK (latitude_e7 BETWEEN -900000000 AND 900000000), 
	CONSTRAINT ck_waypoint_state_longitude CHECK (longitude_e7 >= -1800000000 AND longitude_e7 < 1800000000), 
	CONSTRAINT fk_waypoint_state_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
INSERT INTO "waypoint_state" VALUES(1,1,'00000000000000000000000000000001',1,NULL,1,'001','001','Ormsau','ormsau',488720000,118105000,3890,NULL,NULL,NULL,'[["123.505","launch"]]',NULL,NULL,NULL,NULL,'["48.8720000","11.8105000","decimal-degrees",4,"389","m"]',NULL);
INSERT INTO "waypoint_state" VALUES(2,1,'00000000000000000000000000000002',1,2,1,'002','002','Kelmried','kelmried',485610000,115220000,4670,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["48.5610000","11.5220000","decimal-degrees",3,"467","m"]',NULL);
INSERT INTO "waypoint_state" VALUES(3,1,'00000000000000000000000000000003',1,NULL,1,'003','003','Tannwöhr','tannwohr',490510000,124730000,4970,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["49.0510000","12.4730000","decimal-degrees",3,"497","m"]',NULL);
INSERT INTO "waypoint_state" VALUES(4,1,'00000000000000000000000000000004',1,NULL,1,'004','004','Große Linde','grosse linde',486310000,123260000,4230,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["48.6310000","12.3260000","decimal-degrees",3,"423","m"]',NULL);
INSERT INTO "waypoint_state" VALUES(5,1,'00000000000000000000000000000002',2,NULL,7,'002','002','Kelmried Süd','kelmried sud',485611000,115220000,4670,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["48.5611000","11.5220000","decimal-degrees",4,"467","m"]',NULL);
INSERT INTO "waypoint_state" VALUES(6,1,'00000000000000000000000000000005',2,NULL,7,'005','005','Brüxfeld','bruxfeld',490350000,115790000,4700,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["49.0350000","11.5790000","decimal-degrees",3,"470","m"]',NULL);
CREATE TABLE waypoint_successor (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	set_id INTEGER NOT NULL, 
	dropped TEXT NOT NULL, 
	kept TEXT NOT NULL, 
	from_revision INTEGER NOT NULL, 
	operation_id INTEGER NOT NULL, 
	checksum TEXT, 
	CONSTRAINT fk_waypoint_successor_set_id_waypoint_set FOREIGN KEY(set_id) REFERENCES waypoint_set (id), 
	CONSTRAINT fk_waypoint_successor_operation_id_operation FOREIGN KEY(operation_id) REFERENCES operation (id)
);
CREATE TABLE waypoint_word (
	word TEXT NOT NULL, 
	state_id INTEGER NOT NULL, 
	CONSTRAINT pk_waypoint_word PRIMARY KEY (word, state_id)
)
 WITHOUT ROWID

;
INSERT INTO "waypoint_word" VALUES('bruexfeld',6);
INSERT INTO "waypoint_word" VALUES('bruxfeld',6);
INSERT INTO "waypoint_word" VALUES('grosse',4);
INSERT INTO "waypoint_word" VALUES('kelmried',5);
INSERT INTO "waypoint_word" VALUES('linde',4);
INSERT INTO "waypoint_word" VALUES('ormsau',1);
INSERT INTO "waypoint_word" VALUES('sud',5);
INSERT INTO "waypoint_word" VALUES('sued',5);
INSERT INTO "waypoint_word" VALUES('tannwoehr',3);
INSERT INTO "waypoint_word" VALUES('tannwohr',3);
CREATE INDEX ix_set_revision_operation_id ON set_revision (operation_id);
CREATE INDEX ix_waypoint_successor_operation_id ON waypoint_successor (operation_id);
CREATE INDEX ix_waypoint_successor_set_id_dropped ON waypoint_successor (set_id, dropped);
CREATE INDEX ix_airspace_revision_operation_id ON airspace_revision (operation_id);
CREATE UNIQUE INDEX uq_task_contest_name ON task (contest_id, name) WHERE contest_id IS NOT NULL;
CREATE UNIQUE INDEX uq_task_name_without_contest ON task (name) WHERE contest_id IS NULL;
CREATE INDEX ix_accepted_finding_set_id_finding ON accepted_finding (set_id, finding);
CREATE INDEX ix_accepted_finding_operation_id ON accepted_finding (operation_id);
CREATE INDEX ix_handout_contest_id_day ON handout (contest_id, day);
CREATE INDEX ix_handout_operation_id ON handout (operation_id);
CREATE INDEX ix_set_label_operation_id ON set_label (operation_id);
CREATE INDEX ix_set_label_set_id_number ON set_label (set_id, number);
CREATE INDEX ix_waypoint_state_valid_from ON waypoint_state (set_id, valid_from);
CREATE UNIQUE INDEX uq_waypoint_state_open_code ON waypoint_state (set_id, code) WHERE valid_to IS NULL;
CREATE INDEX ix_waypoint_state_code_folded ON waypoint_state (code_folded);
CREATE INDEX ix_waypoint_state_valid_to ON waypoint_state (set_id, valid_to) WHERE valid_to IS NOT NULL;
CREATE INDEX ix_waypoint_state_position ON waypoint_state (latitude_e7, longitude_e7);
CREATE UNIQUE INDEX uq_waypoint_state_identity ON waypoint_state (identity, set_id, valid_from);
CREATE INDEX ix_contest_revision_operation_id ON contest_revision (operation_id);
CREATE INDEX ix_task_revision_operation_id ON task_revision (operation_id);
CREATE INDEX ix_task_revision_fingerprint ON task_revision (fingerprint);
CREATE INDEX ix_flown_record_task_id_flown_on ON flown_record (task_id, flown_on);
CREATE INDEX ix_flown_record_operation_id ON flown_record (operation_id);
CREATE INDEX ix_task_point_position ON task_point (latitude_e7, longitude_e7);
CREATE INDEX ix_task_point_identity ON task_point (identity);
CREATE INDEX ix_task_point_code ON task_point (code);
CREATE INDEX ix_handout_task_task_id ON handout_task (task_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('operation',12);
INSERT INTO "sqlite_sequence" VALUES('waypoint_set',1);
INSERT INTO "sqlite_sequence" VALUES('waypoint_state',6);
INSERT INTO "sqlite_sequence" VALUES('contest',1);
INSERT INTO "sqlite_sequence" VALUES('task',2);
INSERT INTO "sqlite_sequence" VALUES('handout',1);
INSERT INTO "sqlite_sequence" VALUES('flown_record',2);
INSERT INTO "sqlite_sequence" VALUES('set_label',1);
COMMIT;
