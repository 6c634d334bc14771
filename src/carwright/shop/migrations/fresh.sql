-- What the migrations come to, written by tools/fresh.py; a new file is started with it, since it is quick.
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);

CREATE TABLE record (
	seq INTEGER NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	id VARCHAR(36) NOT NULL, 
	subject VARCHAR(36) NOT NULL, 
	kind VARCHAR(9) NOT NULL, 
	"key" TEXT NOT NULL, 
	body TEXT NOT NULL, 
	said VARCHAR(64) NOT NULL, 
	PRIMARY KEY (seq), 
	UNIQUE (digest)
);

CREATE INDEX record_subject ON record (subject);

CREATE INDEX record_said ON record (said);

CREATE TABLE writing (
	seq INTEGER NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	subject VARCHAR(36) NOT NULL, 
	"of" VARCHAR(10) NOT NULL, 
	clock BIGINT NOT NULL, 
	who TEXT NOT NULL, 
	program TEXT NOT NULL, 
	PRIMARY KEY (seq), 
	UNIQUE (digest)
);

CREATE INDEX writing_subject ON writing (subject);

CREATE INDEX writing_clock ON writing (clock);

CREATE TABLE line (
	writing INTEGER NOT NULL, 
	ordinal INTEGER NOT NULL, 
	record INTEGER NOT NULL, 
	"after" VARCHAR(36) NOT NULL, 
	"before" VARCHAR(36) NOT NULL, 
	PRIMARY KEY (writing, ordinal), 
	FOREIGN KEY(writing) REFERENCES writing (seq), 
	FOREIGN KEY(record) REFERENCES record (seq)
);

CREATE TABLE file (
	digest VARCHAR(64) NOT NULL, 
	size BIGINT NOT NULL, 
	content BLOB, 
	PRIMARY KEY (digest)
);

CREATE TRIGGER record_no_update BEFORE UPDATE ON record BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER record_no_delete BEFORE DELETE ON record BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER record_no_replace BEFORE INSERT ON record WHEN EXISTS (SELECT 1 FROM record WHERE (seq = NEW.seq) OR (digest = NEW.digest)) BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER writing_no_update BEFORE UPDATE ON writing BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER writing_no_delete BEFORE DELETE ON writing BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER writing_no_replace BEFORE INSERT ON writing WHEN EXISTS (SELECT 1 FROM writing WHERE (seq = NEW.seq) OR (digest = NEW.digest)) BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER line_no_update BEFORE UPDATE ON line BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER line_no_delete BEFORE DELETE ON line BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER line_no_replace BEFORE INSERT ON line WHEN EXISTS (SELECT 1 FROM line WHERE (writing = NEW.writing AND ordinal = NEW.ordinal)) BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER file_no_update BEFORE UPDATE ON file BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER file_no_delete BEFORE DELETE ON file BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TRIGGER file_no_replace BEFORE INSERT ON file WHEN EXISTS (SELECT 1 FROM file WHERE (digest = NEW.digest)) BEGIN SELECT RAISE(ABORT, 'carwright: insert only'); END;

CREATE TABLE standing (
	subject VARCHAR(36) NOT NULL, 
	"of" VARCHAR(10) NOT NULL, 
	title TEXT NOT NULL, 
	sort TEXT NOT NULL, 
	scale TEXT NOT NULL, 
	type TEXT NOT NULL, 
	owner TEXT NOT NULL, 
	number TEXT NOT NULL, 
	place TEXT NOT NULL, 
	words TEXT NOT NULL, 
	who TEXT NOT NULL, 
	uses TEXT NOT NULL, 
	entries INTEGER NOT NULL, 
	clock BIGINT NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	forks INTEGER NOT NULL, 
	PRIMARY KEY (subject)
);

CREATE INDEX standing_of_sort ON standing ("of", sort, subject);

CREATE INDEX standing_alike ON standing (title, scale, number);

CREATE TABLE judged (
	subject VARCHAR(36) NOT NULL, 
	history VARCHAR(64) NOT NULL, 
	program VARCHAR(64) NOT NULL, 
	points FLOAT NOT NULL, 
	out_of FLOAT NOT NULL, 
	status TEXT NOT NULL, 
	band TEXT NOT NULL, 
	route TEXT NOT NULL, 
	reasons TEXT NOT NULL, 
	due TEXT NOT NULL, 
	fault TEXT NOT NULL, 
	fails INTEGER NOT NULL, 
	undecided INTEGER NOT NULL, 
	unmeasured INTEGER NOT NULL, 
	PRIMARY KEY (subject), 
	FOREIGN KEY(subject) REFERENCES standing (subject) ON DELETE CASCADE
);

CREATE TABLE result (
	"key" VARCHAR(64) NOT NULL, 
	subject VARCHAR(36) NOT NULL, 
	body BLOB NOT NULL, 
	PRIMARY KEY ("key"), 
	FOREIGN KEY(subject) REFERENCES standing (subject) ON DELETE CASCADE
);

CREATE INDEX result_subject ON result (subject);

INSERT INTO alembic_version (version_num) VALUES ('0002');
