CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL,
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE absence (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	place_id INTEGER,
	why VARCHAR(200) NOT NULL,
	left_at TIMESTAMP WITH TIME ZONE NOT NULL,
	expected_on DATE,
	back_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_absence PRIMARY KEY (id),
	CONSTRAINT uq_absence_ref UNIQUE (ref)
);
CREATE TABLE acceptance (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	check_name VARCHAR(60) NOT NULL,
	until DATE NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	reason VARCHAR(300) NOT NULL,
	CONSTRAINT pk_acceptance PRIMARY KEY (id),
	CONSTRAINT uq_acceptance_ref UNIQUE (ref)
);
CREATE TABLE accepted_plan (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	code VARCHAR(40) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	undone_at TIMESTAMP WITH TIME ZONE,
	undone_for VARCHAR(200),
	version INTEGER NOT NULL,
	CONSTRAINT pk_accepted_plan PRIMARY KEY (id),
	CONSTRAINT uq_accepted_plan_ref UNIQUE (ref),
	CONSTRAINT uq_accepted_plan_code UNIQUE (code)
);
CREATE TABLE accessory (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER NOT NULL,
	name VARCHAR(80) NOT NULL,
	count INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	CONSTRAINT pk_accessory PRIMARY KEY (id),
	CONSTRAINT uq_accessory_ref UNIQUE (ref)
);
CREATE TABLE accessory_count (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	accessory_id INTEGER NOT NULL,
	sent INTEGER NOT NULL,
	back INTEGER,
	CONSTRAINT pk_accessory_count PRIMARY KEY (id),
	CONSTRAINT uq_accessory_count_booking_unit_id UNIQUE (booking_unit_id, accessory_id),
	CONSTRAINT uq_accessory_count_ref UNIQUE (ref)
);
CREATE TABLE approved_firmware (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER NOT NULL,
	version VARCHAR(40) NOT NULL,
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_approved_firmware PRIMARY KEY (id),
	CONSTRAINT uq_approved_firmware_ref UNIQUE (ref)
);
CREATE TABLE bath (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	disinfectant_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	mixed_at TIMESTAMP WITH TIME ZONE NOT NULL,
	use_by TIMESTAMP WITH TIME ZONE NOT NULL,
	contact_minutes FLOAT(53) NOT NULL,
	rinsed BOOLEAN NOT NULL,
	person_id INTEGER,
	CONSTRAINT pk_bath PRIMARY KEY (id),
	CONSTRAINT uq_bath_ref UNIQUE (ref)
);
CREATE TABLE bath_loop (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	bath_id INTEGER NOT NULL,
	disinfection_id INTEGER NOT NULL,
	part_id INTEGER,
	CONSTRAINT pk_bath_loop PRIMARY KEY (id),
	CONSTRAINT uq_bath_loop_ref UNIQUE (ref)
);
CREATE TABLE bench_reading (
	id INTEGER NOT NULL,
	bench_test_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	quantity VARCHAR(24) NOT NULL,
	value FLOAT(53) NOT NULL,
	unit VARCHAR(12) NOT NULL,
	equipment_id INTEGER,
	CONSTRAINT pk_bench_reading PRIMARY KEY (id),
	CONSTRAINT uq_bench_reading_bench_test_id UNIQUE (bench_test_id, ordinal)
);
CREATE TABLE bench_session (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	started_at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	pressure_mbar FLOAT(53) NOT NULL,
	pressure_source VARCHAR(12) NOT NULL,
	temperature_c FLOAT(53) NOT NULL,
	humidity FLOAT(53),
	oxygen_shown_percent FLOAT(53),
	analyser_id INTEGER,
	barometer_id INTEGER,
	hygrometer_id INTEGER,
	ended_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_bench_session PRIMARY KEY (id),
	CONSTRAINT ck_bench_session_pressure_source_word CHECK (pressure_source IS NULL OR pressure_source IN ('measured', 'altitude')),
	CONSTRAINT uq_bench_session_ref UNIQUE (ref)
);
CREATE TABLE bench_test (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	part_id INTEGER,
	kind VARCHAR(24) NOT NULL,
	direction VARCHAR(10),
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	ticket_id INTEGER,
	equipment_id INTEGER,
	held BOOLEAN,
	watched_minutes FLOAT(53),
	value FLOAT(53),
	unit VARCHAR(12),
	supply_bar FLOAT(53),
	result VARCHAR(8) NOT NULL,
	supersedes_id INTEGER,
	note VARCHAR,
	expanded_u FLOAT(53),
	finding VARCHAR(600),
	CONSTRAINT pk_bench_test PRIMARY KEY (id),
	CONSTRAINT ck_bench_test_kind_word CHECK (kind IS NULL OR kind IN ('one-way valve', 'loop negative', 'loop positive', 'intermediate pressure', 'injector flow', 'opening pressure', 'bailout valve', 'mouthpiece valve', 'solenoid', 'addition valve', 'battery voltage', 'alarms', 'set-point held', 'carbon dioxide zero', 'carbon dioxide span', 'temperature stick', 'depth sensor', 'handset screen', 'head-up display', 'battery under load', 'charge cycles', 'solenoid flow')),
	CONSTRAINT ck_bench_test_direction_word CHECK (direction IS NULL OR direction IN ('inhale', 'exhale', 'both')),
	CONSTRAINT ck_bench_test_result_word CHECK (result IS NULL OR result IN ('pass', 'watch', 'repeat', 'reject')),
	CONSTRAINT uq_bench_test_ref UNIQUE (ref)
);
CREATE TABLE booking (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	kind VARCHAR(8) NOT NULL,
	code VARCHAR(40) NOT NULL,
	unit_type_id INTEGER NOT NULL,
	starts_on DATE NOT NULL,
	ends_on DATE NOT NULL,
	units_wanted INTEGER NOT NULL,
	renter_id INTEGER,
	instructor_id INTEGER,
	planned_minutes FLOAT(53),
	planned_depth_m FLOAT(53),
	planned_water_c FLOAT(53),
	planned_co2_l_min FLOAT(53),
	cancelled_at TIMESTAMP WITH TIME ZONE,
	version INTEGER NOT NULL,
	ended_as VARCHAR(12),
	ended_for VARCHAR(200),
	language VARCHAR(5),
	back_by VARCHAR(5),
	CONSTRAINT pk_booking PRIMARY KEY (id),
	CONSTRAINT ck_booking_kind_word CHECK (kind IS NULL OR kind IN ('hire', 'course', 'try day')),
	CONSTRAINT ck_booking_ended_as_word CHECK (ended_as IS NULL OR ended_as IN ('cancelled', 'no-show')),
	CONSTRAINT ck_booking_language_word CHECK (language IS NULL OR language IN ('en', 'de', 'es', 'fr', 'el', 'it', 'cs', 'pl')),
	CONSTRAINT uq_booking_ref UNIQUE (ref),
	CONSTRAINT uq_booking_code UNIQUE (code)
);
CREATE TABLE booking_diver (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_id INTEGER NOT NULL,
	person_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	harness VARCHAR(20),
	last_dive_on DATE,
	left_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_booking_diver PRIMARY KEY (id),
	CONSTRAINT uq_booking_diver_ref UNIQUE (ref)
);
CREATE TABLE booking_terms (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_id INTEGER NOT NULL,
	spares INTEGER NOT NULL,
	waiting_since TIMESTAMP WITH TIME ZONE,
	version INTEGER NOT NULL,
	bailout BOOLEAN,
	diluent_oxygen FLOAT(53),
	diluent_helium FLOAT(53),
	altitude_m FLOAT(53),
	price_terms VARCHAR(400),
	waited_since TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_booking_terms PRIMARY KEY (id),
	CONSTRAINT uq_booking_terms_ref UNIQUE (ref)
);
CREATE TABLE booking_unit (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_id INTEGER NOT NULL,
	unit_id INTEGER NOT NULL,
	diver_id INTEGER,
	hand_over VARCHAR(16),
	out_at TIMESTAMP WITH TIME ZONE,
	out_by_id INTEGER,
	received_at TIMESTAMP WITH TIME ZONE,
	received_by_id INTEGER,
	wet BOOLEAN,
	flooded BOOLEAN,
	fault BOOLEAN,
	loop_minutes FLOAT(53),
	dives INTEGER,
	version INTEGER NOT NULL,
	taken_off_at TIMESTAMP WITH TIME ZONE,
	taken_off_for VARCHAR(200),
	put_on_for VARCHAR(60),
	CONSTRAINT pk_booking_unit PRIMARY KEY (id),
	CONSTRAINT ck_booking_unit_hand_over_word CHECK (hand_over IS NULL OR hand_over IN ('assembled', 'kit', 'not for diving')),
	CONSTRAINT uq_booking_unit_ref UNIQUE (ref)
);
CREATE TABLE calibration (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	session_id INTEGER,
	person_id INTEGER,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	made VARCHAR(10) NOT NULL,
	pressure_mbar FLOAT(53) NOT NULL,
	pressure_source VARCHAR(12) NOT NULL,
	temperature_c FLOAT(53) NOT NULL,
	oxygen_temperature_c FLOAT(53),
	humidity FLOAT(53),
	oxygen_shown_percent FLOAT(53),
	analyser_id INTEGER,
	barometer_id INTEGER,
	head VARCHAR(8) NOT NULL,
	vented VARCHAR(8) NOT NULL,
	over_pressure_mbar FLOAT(53),
	settled VARCHAR(8) NOT NULL,
	comparison_id INTEGER,
	ticket_id INTEGER,
	supersedes_id INTEGER,
	supersedes_reason VARCHAR,
	note VARCHAR,
	CONSTRAINT pk_calibration PRIMARY KEY (id),
	CONSTRAINT ck_calibration_made_word CHECK (made IS NULL OR made IN ('workshop', 'diver')),
	CONSTRAINT ck_calibration_pressure_source_word CHECK (pressure_source IS NULL OR pressure_source IN ('measured', 'altitude')),
	CONSTRAINT ck_calibration_head_word CHECK (head IS NULL OR head IN ('dry', 'damp', 'unknown')),
	CONSTRAINT ck_calibration_vented_word CHECK (vented IS NULL OR vented IN ('yes', 'no', 'unknown')),
	CONSTRAINT ck_calibration_settled_word CHECK (settled IS NULL OR settled IN ('yes', 'no', 'unknown')),
	CONSTRAINT uq_calibration_ref UNIQUE (ref)
);
CREATE TABLE calibration_outcome (
	id INTEGER NOT NULL,
	calibration_id INTEGER NOT NULL,
	part_id INTEGER NOT NULL,
	slot_id INTEGER NOT NULL,
	verdict VARCHAR(8) NOT NULL,
	linearity FLOAT(53),
	expanded_u FLOAT(53),
	margin FLOAT(53),
	air_mv FLOAT(53),
	oxygen_mv FLOAT(53),
	reader_gap_bar FLOAT(53),
	verified_up_to_bar FLOAT(53),
	blame VARCHAR(12),
	finding VARCHAR NOT NULL,
	next_step VARCHAR NOT NULL,
	reason VARCHAR(20),
	limited_from_bar FLOAT(53),
	limited_proven BOOLEAN,
	CONSTRAINT pk_calibration_outcome PRIMARY KEY (id),
	CONSTRAINT ck_calibration_outcome_verdict_word CHECK (verdict IS NULL OR verdict IN ('pass', 'watch', 'repeat', 'reject')),
	CONSTRAINT ck_calibration_outcome_reason_word CHECK (reason IS NULL OR reason IN ('within_limits', 'low_output', 'across_limit', 'cannot_decide', 'above_limit', 'below_limit', 'mv_out_of_limits', 'current_limited', 'not_vented', 'shifted_up', 'common_low', 'readers_differ', 'not_settled', 'gas_not_analysed', 'missing', 'head_damp', 'equipment', 'limited_before', 'pot_undecided', 'rejected_before'))
);
CREATE TABLE calibration_reading (
	id INTEGER NOT NULL,
	calibration_id INTEGER NOT NULL,
	part_id INTEGER NOT NULL,
	slot_id INTEGER NOT NULL,
	reader_id INTEGER NOT NULL,
	point VARCHAR(8) NOT NULL,
	mv FLOAT(53),
	po2_shown_bar FLOAT(53),
	pot_bar FLOAT(53),
	seconds FLOAT(53),
	CONSTRAINT pk_calibration_reading PRIMARY KEY (id),
	CONSTRAINT ck_calibration_reading_point_word CHECK (point IS NULL OR point IN ('zero', 'air', 'oxygen', 'pot', 'settling'))
);
CREATE TABLE centre (
	id INTEGER NOT NULL,
	name VARCHAR(200) NOT NULL,
	code VARCHAR(8) NOT NULL,
	timezone VARCHAR(60) NOT NULL,
	altitude_m FLOAT(53) NOT NULL,
	usual_water_c FLOAT(53) NOT NULL,
	usual_depth_m FLOAT(53) NOT NULL,
	telephone VARCHAR(60),
	version INTEGER NOT NULL,
	emergency_telephone VARCHAR(60),
	address VARCHAR(300),
	currency VARCHAR(3),
	measures VARCHAR(10),
	pressure_unit VARCHAR(10),
	temperature_unit VARCHAR(10),
	length_unit VARCHAR(10),
	mass_unit VARCHAR(10),
	CONSTRAINT pk_centre PRIMARY KEY (id),
	CONSTRAINT ck_centre_measures_word CHECK (measures IS NULL OR measures IN ('metric', 'imperial')),
	CONSTRAINT ck_centre_pressure_unit_word CHECK (pressure_unit IS NULL OR pressure_unit IN ('bar', 'psi')),
	CONSTRAINT ck_centre_temperature_unit_word CHECK (temperature_unit IS NULL OR temperature_unit IN ('°C', '°F')),
	CONSTRAINT ck_centre_length_unit_word CHECK (length_unit IS NULL OR length_unit IN ('m', 'ft')),
	CONSTRAINT ck_centre_mass_unit_word CHECK (mass_unit IS NULL OR mass_unit IN ('kg', 'lb'))
);
CREATE TABLE clean_loss (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	why VARCHAR(30) NOT NULL,
	person_id INTEGER,
	ticket_id INTEGER,
	note VARCHAR(300),
	CONSTRAINT pk_clean_loss PRIMARY KEY (id),
	CONSTRAINT ck_clean_loss_why_word CHECK (why IS NULL OR why IN ('opened off the clean bench', 'air not oxygen-compatible', 'flooded', 'wrong lubricant', 'other')),
	CONSTRAINT uq_clean_loss_ref UNIQUE (ref)
);
CREATE TABLE container (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	lot VARCHAR(60) NOT NULL,
	received_kg FLOAT(53) NOT NULL,
	left_kg FLOAT(53) NOT NULL,
	received_on DATE,
	opened_at TIMESTAMP WITH TIME ZONE,
	last_good_day DATE,
	place_id INTEGER,
	version INTEGER NOT NULL,
	CONSTRAINT pk_container PRIMARY KEY (id),
	CONSTRAINT uq_container_ref UNIQUE (ref)
);
CREATE TABLE cylinder (
	id INTEGER NOT NULL,
	part_id INTEGER NOT NULL,
	role VARCHAR(12) NOT NULL,
	size_l FLOAT(53) NOT NULL,
	working_bar FLOAT(53) NOT NULL,
	material VARCHAR(20),
	marking VARCHAR(60),
	CONSTRAINT pk_cylinder PRIMARY KEY (id),
	CONSTRAINT ck_cylinder_role_word CHECK (role IS NULL OR role IN ('oxygen', 'diluent', 'bailout', 'drive gas'))
);
CREATE TABLE cylinder_fill (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	oxygen_asked FLOAT(53) NOT NULL,
	helium_asked FLOAT(53) NOT NULL,
	start_bar FLOAT(53),
	end_bar FLOAT(53) NOT NULL,
	person_id INTEGER,
	batch VARCHAR(60),
	oxygen_compatible BOOLEAN,
	machine VARCHAR(60),
	temperature_c FLOAT(53),
	supersedes_id INTEGER,
	supersedes_reason VARCHAR(120),
	note VARCHAR(300),
	CONSTRAINT pk_cylinder_fill PRIMARY KEY (id),
	CONSTRAINT uq_cylinder_fill_ref UNIQUE (ref)
);
CREATE TABLE cylinder_reading (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	bar FLOAT(53) NOT NULL,
	temperature_c FLOAT(53),
	person_id INTEGER,
	CONSTRAINT pk_cylinder_reading PRIMARY KEY (id),
	CONSTRAINT uq_cylinder_reading_ref UNIQUE (ref)
);
CREATE TABLE disinfectant (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER,
	name VARCHAR(80) NOT NULL,
	strength VARCHAR(40) NOT NULL,
	contact_minutes FLOAT(53) NOT NULL,
	use_within_hours FLOAT(53),
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_disinfectant PRIMARY KEY (id),
	CONSTRAINT uq_disinfectant_ref UNIQUE (ref)
);
CREATE TABLE disinfection (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	agent VARCHAR(80) NOT NULL,
	strength VARCHAR(40) NOT NULL,
	contact_minutes FLOAT(53) NOT NULL,
	rinsed BOOLEAN NOT NULL,
	dry_at TIMESTAMP WITH TIME ZONE,
	person_id INTEGER,
	ticket_id INTEGER,
	CONSTRAINT pk_disinfection PRIMARY KEY (id),
	CONSTRAINT uq_disinfection_ref UNIQUE (ref)
);
CREATE TABLE drying (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	disinfection_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	dry BOOLEAN NOT NULL,
	person_id INTEGER,
	CONSTRAINT pk_drying PRIMARY KEY (id),
	CONSTRAINT uq_drying_ref UNIQUE (ref)
);
CREATE TABLE fill (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	container_id INTEGER,
	packed_at TIMESTAMP WITH TIME ZONE NOT NULL,
	packed_by_id INTEGER,
	mass_g FLOAT(53),
	checked BOOLEAN,
	diver_id INTEGER,
	booking_unit_id INTEGER,
	wetted_at TIMESTAMP WITH TIME ZONE,
	closed_up_at TIMESTAMP WITH TIME ZONE,
	discarded_at TIMESTAMP WITH TIME ZONE,
	discarded_by_id INTEGER,
	why_discarded VARCHAR(200),
	tare_g FLOAT(53),
	filled_g FLOAT(53),
	scale_id INTEGER,
	mass_u_g FLOAT(53),
	CONSTRAINT pk_fill PRIMARY KEY (id),
	CONSTRAINT uq_fill_ref UNIQUE (ref)
);
CREATE TABLE fill_event (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	fill_id INTEGER NOT NULL,
	kind VARCHAR(10) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	diver_id INTEGER,
	booking_unit_id INTEGER,
	note VARCHAR(200),
	CONSTRAINT pk_fill_event PRIMARY KEY (id),
	CONSTRAINT ck_fill_event_kind_word CHECK (kind IS NULL OR kind IN ('given', 'closed up', 'flooded')),
	CONSTRAINT uq_fill_event_ref UNIQUE (ref)
);
CREATE TABLE finding (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	text VARCHAR NOT NULL,
	supersedes_id INTEGER,
	supersedes_reason VARCHAR(120),
	CONSTRAINT pk_finding PRIMARY KEY (id),
	CONSTRAINT uq_finding_ref UNIQUE (ref)
);
CREATE TABLE firmware_change (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	before VARCHAR(40),
	after VARCHAR(40) NOT NULL,
	person_id INTEGER,
	CONSTRAINT pk_firmware_change PRIMARY KEY (id),
	CONSTRAINT uq_firmware_change_ref UNIQUE (ref)
);
CREATE TABLE fitting (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	slot_id INTEGER NOT NULL,
	unit_id INTEGER,
	host_part_id INTEGER,
	fitted_at TIMESTAMP WITH TIME ZONE NOT NULL,
	fitted_by_id INTEGER,
	ticket_id INTEGER,
	removed_at TIMESTAMP WITH TIME ZONE,
	removed_by_id INTEGER,
	removal_ticket_id INTEGER,
	why_removed VARCHAR(20),
	last_good_day DATE,
	last_good_basis VARCHAR(40),
	forecast_day DATE,
	forecast_of VARCHAR(20),
	since_unknown BOOLEAN,
	CONSTRAINT pk_fitting PRIMARY KEY (id),
	CONSTRAINT ck_fitting_why_removed_word CHECK (why_removed IS NULL OR why_removed IN ('age', 'low output', 'fault', 'service', 'moved', 'wrong part', 'other')),
	CONSTRAINT ck_fitting_forecast_of_word CHECK (forecast_of IS NULL OR forecast_of IN ('linearity', 'mV in air')),
	CONSTRAINT uq_fitting_ref UNIQUE (ref)
);
CREATE TABLE gas_analysis (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	oxygen_percent FLOAT(53),
	helium_percent FLOAT(53),
	analyser_id INTEGER,
	person_id INTEGER,
	by_diver BOOLEAN NOT NULL,
	uncertainty FLOAT(53),
	signed VARCHAR(10),
	supersedes_id INTEGER,
	supersedes_reason VARCHAR(120),
	note VARCHAR(300),
	CONSTRAINT pk_gas_analysis PRIMARY KEY (id),
	CONSTRAINT ck_gas_analysis_signed_word CHECK (signed IS NULL OR signed IN ('on paper', 'by PIN')),
	CONSTRAINT uq_gas_analysis_ref UNIQUE (ref)
);
CREATE TABLE gas_certificate (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	batch VARCHAR(60) NOT NULL,
	gas VARCHAR(10) NOT NULL,
	supplier VARCHAR(120),
	issued_on DATE NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	CONSTRAINT pk_gas_certificate PRIMARY KEY (id),
	CONSTRAINT ck_gas_certificate_gas_word CHECK (gas IS NULL OR gas IN ('oxygen', 'air')),
	CONSTRAINT uq_gas_certificate_ref UNIQUE (ref)
);
CREATE TABLE gas_certificate_line (
	id INTEGER NOT NULL,
	gas_certificate_id INTEGER NOT NULL,
	what VARCHAR(40) NOT NULL,
	value FLOAT(53) NOT NULL,
	CONSTRAINT pk_gas_certificate_line PRIMARY KEY (id),
	CONSTRAINT uq_gas_certificate_line_gas_certificate_id UNIQUE (gas_certificate_id, what)
);
CREATE TABLE hand_back (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	missing VARCHAR(300),
	damaged BOOLEAN,
	deposit_back FLOAT(53),
	CONSTRAINT pk_hand_back PRIMARY KEY (id),
	CONSTRAINT uq_hand_back_ref UNIQUE (ref)
);
CREATE TABLE hand_over (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	harness VARCHAR(20),
	accessories INTEGER,
	deposit FLOAT(53),
	absorbent_kg FLOAT(53),
	CONSTRAINT pk_hand_over PRIMARY KEY (id),
	CONSTRAINT uq_hand_over_ref UNIQUE (ref)
);
CREATE TABLE handset_look (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	settings_reset BOOLEAN,
	previous_data VARCHAR(8),
	CONSTRAINT pk_handset_look PRIMARY KEY (id),
	CONSTRAINT ck_handset_look_previous_data_word CHECK (previous_data IS NULL OR previous_data IN ('cleared', 'stated', 'present')),
	CONSTRAINT uq_handset_look_ref UNIQUE (ref)
);
CREATE TABLE handset_setting (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	calibration_id INTEGER,
	unit_id INTEGER NOT NULL,
	reader_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	fraction_set FLOAT(53),
	pressure_set_mbar FLOAT(53),
	shown_oxygen_bar FLOAT(53),
	shown_air_bar FLOAT(53),
	CONSTRAINT pk_handset_setting PRIMARY KEY (id),
	CONSTRAINT uq_handset_setting_ref UNIQUE (ref)
);
CREATE TABLE hire_call (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	told VARCHAR(120) NOT NULL,
	answer VARCHAR(30) NOT NULL,
	again_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_hire_call PRIMARY KEY (id),
	CONSTRAINT ck_hire_call_answer_word CHECK (answer IS NULL OR answer IN ('will not dive it', 'will bring it back', 'means to dive it', 'message left', 'no answer', 'number does not work')),
	CONSTRAINT uq_hire_call_ref UNIQUE (ref)
);
CREATE TABLE hire_note (
	id INTEGER NOT NULL,
	booking_unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	text VARCHAR NOT NULL,
	salt VARCHAR(32) NOT NULL,
	CONSTRAINT pk_hire_note PRIMARY KEY (id)
);
CREATE TABLE hold (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER,
	part_id INTEGER,
	kind VARCHAR(20) NOT NULL,
	reason VARCHAR NOT NULL,
	placed_at TIMESTAMP WITH TIME ZONE NOT NULL,
	placed_by_id INTEGER NOT NULL,
	lifted_at TIMESTAMP WITH TIME ZONE,
	lifted_by_id INTEGER,
	lift_reason VARCHAR,
	CONSTRAINT pk_hold PRIMARY KEY (id),
	CONSTRAINT ck_hold_kind_word CHECK (kind IS NULL OR kind IN ('manual', 'incident', 'notice', 'cell', 'received')),
	CONSTRAINT uq_hold_ref UNIQUE (ref)
);
CREATE TABLE journal (
	id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	act VARCHAR(60) NOT NULL,
	subject VARCHAR(120) NOT NULL,
	content TEXT NOT NULL,
	previous VARCHAR(64) NOT NULL,
	hash VARCHAR(64) NOT NULL,
	CONSTRAINT pk_journal PRIMARY KEY (id),
	CONSTRAINT uq_journal_hash UNIQUE (hash)
);
CREATE TABLE kit_content (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	place_id INTEGER NOT NULL,
	part_type_id INTEGER NOT NULL,
	least INTEGER NOT NULL,
	CONSTRAINT pk_kit_content PRIMARY KEY (id),
	CONSTRAINT uq_kit_content_place_part_type UNIQUE (place_id, part_type_id),
	CONSTRAINT uq_kit_content_ref UNIQUE (ref)
);
CREATE TABLE leak (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	bench_test_id INTEGER NOT NULL,
	slot_id INTEGER,
	place VARCHAR(120),
	method VARCHAR(30) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	ticket_id INTEGER,
	supersedes_id INTEGER,
	CONSTRAINT pk_leak PRIMARY KEY (id),
	CONSTRAINT ck_leak_method_word CHECK (method IS NULL OR method IN ('soapy water', 'under water', 'blanking off a section', 'by ear', 'by feel', 'by eye', 'trace gas', 'other')),
	CONSTRAINT uq_leak_ref UNIQUE (ref)
);
CREATE TABLE legal_hold (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	person_id INTEGER NOT NULL,
	reason VARCHAR(300) NOT NULL,
	placed_at TIMESTAMP WITH TIME ZONE NOT NULL,
	placed_by_id INTEGER NOT NULL,
	lifted_at TIMESTAMP WITH TIME ZONE,
	lifted_by_id INTEGER,
	CONSTRAINT pk_legal_hold PRIMARY KEY (id),
	CONSTRAINT uq_legal_hold_ref UNIQUE (ref)
);
CREATE TABLE limit_value (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER,
	part_type_id INTEGER,
	name VARCHAR(60) NOT NULL,
	amount FLOAT(53) NOT NULL,
	unit VARCHAR(20) NOT NULL,
	source VARCHAR(300) NOT NULL,
	maker BOOLEAN NOT NULL,
	CONSTRAINT pk_limit_value PRIMARY KEY (id),
	CONSTRAINT uq_limit_value_ref UNIQUE (ref)
);
CREATE TABLE log_reading (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	unit_id INTEGER NOT NULL,
	run_id INTEGER,
	part_id INTEGER,
	dive INTEGER NOT NULL,
	on_day DATE,
	started_at TIMESTAMP WITH TIME ZONE,
	quantity VARCHAR(20) NOT NULL,
	handset VARCHAR(60),
	position VARCHAR(60),
	value FLOAT(53) NOT NULL,
	note VARCHAR(120),
	CONSTRAINT pk_log_reading PRIMARY KEY (id),
	CONSTRAINT ck_log_reading_quantity_word CHECK (quantity IS NULL OR quantity IN ('oxygen bar before', 'oxygen bar after', 'diluent bar before', 'diluent bar after', 'air mV', 'oxygen mV')),
	CONSTRAINT uq_log_reading_ref UNIQUE (ref)
);
CREATE TABLE meter_reading (
	id INTEGER NOT NULL,
	made_of VARCHAR(40) NOT NULL,
	made_id INTEGER NOT NULL,
	figure VARCHAR(40) NOT NULL,
	equipment_id INTEGER NOT NULL,
	idn VARCHAR(256) NOT NULL,
	answer VARCHAR(80) NOT NULL,
	unit VARCHAR(12) NOT NULL,
	value FLOAT(53) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	u FLOAT(53),
	u_unit VARCHAR(12),
	CONSTRAINT pk_meter_reading PRIMARY KEY (id)
);
CREATE TABLE notice (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	number VARCHAR(60) NOT NULL,
	issued_on DATE NOT NULL,
	title VARCHAR(200) NOT NULL,
	text VARCHAR NOT NULL,
	action VARCHAR NOT NULL,
	by_when DATE,
	weight VARCHAR(8) NOT NULL,
	CONSTRAINT pk_notice PRIMARY KEY (id),
	CONSTRAINT ck_notice_weight_word CHECK (weight IS NULL OR weight IN ('stop', 'advise')),
	CONSTRAINT uq_notice_ref UNIQUE (ref),
	CONSTRAINT uq_notice_number UNIQUE (number)
);
CREATE TABLE notice_done (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	notice_id INTEGER NOT NULL,
	unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	note VARCHAR,
	CONSTRAINT pk_notice_done PRIMARY KEY (id),
	CONSTRAINT uq_notice_done_ref UNIQUE (ref)
);
CREATE TABLE notice_scope (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	notice_id INTEGER NOT NULL,
	covers VARCHAR(12) NOT NULL,
	first VARCHAR(60) NOT NULL,
	last VARCHAR(60),
	CONSTRAINT pk_notice_scope PRIMARY KEY (id),
	CONSTRAINT ck_notice_scope_covers_word CHECK (covers IS NULL OR covers IN ('unit type', 'part type', 'lot', 'serials', 'firmware')),
	CONSTRAINT uq_notice_scope_ref UNIQUE (ref)
);
CREATE TABLE opening (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	kind VARCHAR(10) NOT NULL,
	what VARCHAR(200) NOT NULL,
	person_id INTEGER,
	ticket_id INTEGER,
	CONSTRAINT pk_opening PRIMARY KEY (id),
	CONSTRAINT ck_opening_kind_word CHECK (kind IS NULL OR kind IN ('workshop', 'routine')),
	CONSTRAINT uq_opening_ref UNIQUE (ref)
);
CREATE TABLE owner (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	name VARCHAR(120) NOT NULL,
	kind VARCHAR(20) NOT NULL,
	CONSTRAINT pk_owner PRIMARY KEY (id),
	CONSTRAINT ck_owner_kind_word CHECK (kind IS NULL OR kind IN ('centre', 'loan', 'renter')),
	CONSTRAINT uq_owner_ref UNIQUE (ref),
	CONSTRAINT uq_owner_name UNIQUE (name)
);
CREATE TABLE part (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	serial VARCHAR(60),
	lot VARCHAR(60),
	made_on DATE,
	made_precision VARCHAR(10) NOT NULL,
	opened_on DATE,
	opened_precision VARCHAR(10) NOT NULL,
	received_on DATE,
	fixed_on DATE,
	fixed_precision VARCHAR(10) NOT NULL,
	owner_id INTEGER NOT NULL,
	place_id INTEGER,
	state VARCHAR(12) NOT NULL,
	firmware VARCHAR(30),
	supplier VARCHAR(120),
	price FLOAT(53),
	version INTEGER NOT NULL,
	CONSTRAINT pk_part PRIMARY KEY (id),
	CONSTRAINT uq_part_type_serial UNIQUE (part_type_id, serial),
	CONSTRAINT ck_part_made_precision_word CHECK (made_precision IS NULL OR made_precision IN ('day', 'month', 'quarter', 'year')),
	CONSTRAINT ck_part_opened_precision_word CHECK (opened_precision IS NULL OR opened_precision IN ('day', 'month', 'quarter', 'year')),
	CONSTRAINT ck_part_fixed_precision_word CHECK (fixed_precision IS NULL OR fixed_precision IN ('day', 'month', 'quarter', 'year')),
	CONSTRAINT ck_part_state_word CHECK (state IS NULL OR state IN ('stock', 'fitted', 'quarantine', 'scrapped', 'sent back')),
	CONSTRAINT uq_part_ref UNIQUE (ref)
);
CREATE TABLE part_event (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	kind VARCHAR(12) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	place_id INTEGER,
	state_before VARCHAR(12),
	place_before_id INTEGER,
	reason VARCHAR(300),
	ticket_id INTEGER,
	undoes_id INTEGER,
	step_result_id INTEGER,
	CONSTRAINT pk_part_event PRIMARY KEY (id),
	CONSTRAINT ck_part_event_kind_word CHECK (kind IS NULL OR kind IN ('received', 'opened', 'moved', 'quarantine', 'released', 'sent back', 'came back', 'scrapped', 'used up', 'not found', 'found', 'undone')),
	CONSTRAINT uq_part_event_ref UNIQUE (ref)
);
CREATE TABLE part_order (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	pieces INTEGER NOT NULL,
	ordered_at TIMESTAMP WITH TIME ZONE NOT NULL,
	ordered_by_id INTEGER NOT NULL,
	expected_on DATE NOT NULL,
	made_for VARCHAR(60),
	arrived INTEGER NOT NULL,
	cancelled_at TIMESTAMP WITH TIME ZONE,
	version INTEGER NOT NULL,
	CONSTRAINT pk_part_order PRIMARY KEY (id),
	CONSTRAINT uq_part_order_ref UNIQUE (ref)
);
CREATE TABLE part_proof (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_event_id INTEGER NOT NULL,
	outcome_id INTEGER,
	bench_test_id INTEGER,
	CONSTRAINT pk_part_proof PRIMARY KEY (id),
	CONSTRAINT ck_part_proof_one_proof CHECK ((outcome_id IS NULL) <> (bench_test_id IS NULL)),
	CONSTRAINT uq_part_proof_ref UNIQUE (ref)
);
CREATE TABLE part_test (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_id INTEGER NOT NULL,
	kind VARCHAR(20) NOT NULL,
	done_on DATE NOT NULL,
	precision VARCHAR(10) NOT NULL,
	passed BOOLEAN NOT NULL,
	done_by VARCHAR(120),
	at TIMESTAMP WITH TIME ZONE,
	how VARCHAR(120),
	person_id INTEGER,
	ticket_id INTEGER,
	CONSTRAINT pk_part_test PRIMARY KEY (id),
	CONSTRAINT ck_part_test_kind_word CHECK (kind IS NULL OR kind IN ('hydrostatic', 'visual', 'service', 'oxygen clean', 'calibration')),
	CONSTRAINT ck_part_test_precision_word CHECK (precision IS NULL OR precision IN ('day', 'month', 'quarter', 'year')),
	CONSTRAINT uq_part_test_ref UNIQUE (ref)
);
CREATE TABLE part_type (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	code VARCHAR(40) NOT NULL,
	name VARCHAR(120) NOT NULL,
	kind VARCHAR(40) NOT NULL,
	assembly BOOLEAN NOT NULL,
	grade VARCHAR(40),
	stocked_in VARCHAR(10) NOT NULL,
	lead_days INTEGER,
	pack_size FLOAT(53),
	price FLOAT(53),
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_part_type PRIMARY KEY (id),
	CONSTRAINT ck_part_type_stocked_in_word CHECK (stocked_in IS NULL OR stocked_in IN ('piece', 'kg')),
	CONSTRAINT uq_part_type_ref UNIQUE (ref),
	CONSTRAINT uq_part_type_code UNIQUE (code)
);
CREATE TABLE part_type_life (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	basis VARCHAR(20) NOT NULL,
	amount FLOAT(53) NOT NULL,
	unit VARCHAR(10) NOT NULL,
	test VARCHAR(20),
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_part_type_life PRIMARY KEY (id),
	CONSTRAINT ck_part_type_life_basis_word CHECK (basis IS NULL OR basis IN ('made', 'opened', 'fitted', 'hours', 'dives', 'hires', 'fixed_date', 'test_interval', 'storage')),
	CONSTRAINT ck_part_type_life_unit_word CHECK (unit IS NULL OR unit IN ('months', 'days', 'hours', 'dives', 'hires')),
	CONSTRAINT uq_part_type_life_ref UNIQUE (ref)
);
CREATE TABLE person (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	code VARCHAR(20) NOT NULL,
	role VARCHAR(20) NOT NULL,
	active BOOLEAN NOT NULL,
	erased_at TIMESTAMP WITH TIME ZONE,
	version INTEGER NOT NULL,
	pin_digest VARCHAR(64),
	named_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_person PRIMARY KEY (id),
	CONSTRAINT ck_person_role_word CHECK (role IS NULL OR role IN ('technician', 'manager', 'instructor', 'renter', 'student')),
	CONSTRAINT uq_person_ref UNIQUE (ref),
	CONSTRAINT uq_person_code UNIQUE (code)
);
CREATE TABLE person_pin (
	id INTEGER NOT NULL,
	person_id INTEGER NOT NULL,
	pin_hash VARCHAR NOT NULL,
	tries INTEGER NOT NULL,
	last_wrong TIMESTAMP WITH TIME ZONE,
	salt VARCHAR(32) NOT NULL,
	CONSTRAINT pk_person_pin PRIMARY KEY (id)
);
CREATE TABLE person_private (
	id INTEGER NOT NULL,
	person_id INTEGER NOT NULL,
	name VARCHAR(200) NOT NULL,
	contact VARCHAR(400),
	note VARCHAR,
	salt VARCHAR(32) NOT NULL,
	CONSTRAINT pk_person_private PRIMARY KEY (id)
);
CREATE TABLE photograph (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	sha256 VARCHAR(64) NOT NULL,
	size INTEGER NOT NULL,
	wide INTEGER NOT NULL,
	high INTEGER NOT NULL,
	caption VARCHAR(200) NOT NULL,
	calibration_id INTEGER,
	bench_test_id INTEGER,
	CONSTRAINT pk_photograph PRIMARY KEY (id),
	CONSTRAINT uq_photograph_ticket_sha256 UNIQUE (ticket_id, sha256),
	CONSTRAINT uq_photograph_ref UNIQUE (ref)
);
CREATE TABLE place (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	name VARCHAR(120) NOT NULL,
	kind VARCHAR(20) NOT NULL,
	CONSTRAINT pk_place PRIMARY KEY (id),
	CONSTRAINT ck_place_kind_word CHECK (kind IS NULL OR kind IN ('shelf', 'bench', 'kit', 'van', 'site', 'quarantine', 'sent back', 'away')),
	CONSTRAINT uq_place_ref UNIQUE (ref),
	CONSTRAINT uq_place_name UNIQUE (name)
);
CREATE TABLE qualification (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	person_id INTEGER NOT NULL,
	unit_type_id INTEGER,
	kind VARCHAR(20) NOT NULL,
	seen_on DATE NOT NULL,
	seen_by_id INTEGER,
	valid_until DATE,
	CONSTRAINT pk_qualification PRIMARY KEY (id),
	CONSTRAINT ck_qualification_kind_word CHECK (kind IS NULL OR kind IN ('diver', 'instructor', 'technician', 'medical')),
	CONSTRAINT uq_qualification_ref UNIQUE (ref)
);
CREATE TABLE rating_row (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	grade VARCHAR(40) NOT NULL,
	water_c FLOAT(53) NOT NULL,
	depth_m FLOAT(53) NOT NULL,
	co2_l_min FLOAT(53) NOT NULL,
	minutes FLOAT(53) NOT NULL,
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_rating_row PRIMARY KEY (id),
	CONSTRAINT uq_rating_row_ref UNIQUE (ref)
);
CREATE TABLE reader (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER NOT NULL,
	slot_id INTEGER,
	name VARCHAR(40) NOT NULL,
	kind VARCHAR(20) NOT NULL,
	ordinal INTEGER NOT NULL,
	zero_offset_mv FLOAT(53) NOT NULL,
	CONSTRAINT pk_reader PRIMARY KEY (id),
	CONSTRAINT ck_reader_kind_word CHECK (kind IS NULL OR kind IN ('handset', 'head-up display', 'bench meter')),
	CONSTRAINT uq_reader_ref UNIQUE (ref)
);
CREATE TABLE reader_cell (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	reader_id INTEGER NOT NULL,
	cell_slot_id INTEGER NOT NULL,
	shows VARCHAR(10) NOT NULL,
	resolution FLOAT(53),
	CONSTRAINT pk_reader_cell PRIMARY KEY (id),
	CONSTRAINT ck_reader_cell_shows_word CHECK (shows IS NULL OR shows IN ('mV', 'pO2', 'nothing')),
	CONSTRAINT uq_reader_cell_ref UNIQUE (ref)
);
CREATE TABLE retention (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	kind VARCHAR(30) NOT NULL,
	years INTEGER NOT NULL,
	source VARCHAR(200) NOT NULL,
	version INTEGER NOT NULL,
	CONSTRAINT pk_retention PRIMARY KEY (id),
	CONSTRAINT ck_retention_kind_word CHECK (kind IS NULL OR kind IN ('names and contacts', 'words about hires')),
	CONSTRAINT uq_retention_ref UNIQUE (ref),
	CONSTRAINT uq_retention_kind UNIQUE (kind)
);
CREATE TABLE run (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	fill_id INTEGER NOT NULL,
	unit_id INTEGER NOT NULL,
	booking_unit_id INTEGER,
	diver_id INTEGER,
	started_at TIMESTAMP WITH TIME ZONE NOT NULL,
	minutes FLOAT(53) NOT NULL,
	clock VARCHAR(6) NOT NULL,
	dives INTEGER NOT NULL,
	coldest_c FLOAT(53),
	deepest_m FLOAT(53),
	co2_l_min FLOAT(53),
	seen_at_6m_bar FLOAT(53),
	ended_by TIMESTAMP WITH TIME ZONE,
	note VARCHAR(300),
	CONSTRAINT pk_run PRIMARY KEY (id),
	CONSTRAINT ck_run_clock_word CHECK (clock IS NULL OR clock IN ('loop', 'dive')),
	CONSTRAINT uq_run_ref UNIQUE (ref)
);
CREATE TABLE run_correction (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	run_id INTEGER NOT NULL,
	instead_id INTEGER,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	reason VARCHAR(200) NOT NULL,
	CONSTRAINT pk_run_correction PRIMARY KEY (id),
	CONSTRAINT uq_run_correction_ref UNIQUE (ref)
);
CREATE TABLE service_need (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	service_task_id INTEGER NOT NULL,
	test VARCHAR(24),
	part_type_id INTEGER,
	quantity FLOAT(53) NOT NULL,
	began_at TIMESTAMP WITH TIME ZONE,
	ended_at TIMESTAMP WITH TIME ZONE,
	supersedes_id INTEGER,
	CONSTRAINT pk_service_need PRIMARY KEY (id),
	CONSTRAINT ck_service_need_test_word CHECK (test IS NULL OR test IN ('one-way valve', 'loop negative', 'loop positive', 'intermediate pressure', 'injector flow', 'opening pressure', 'bailout valve', 'mouthpiece valve', 'solenoid', 'addition valve', 'battery voltage', 'alarms', 'set-point held', 'carbon dioxide zero', 'carbon dioxide span', 'temperature stick', 'depth sensor', 'handset screen', 'head-up display', 'battery under load', 'charge cycles', 'solenoid flow')),
	CONSTRAINT uq_service_need_ref UNIQUE (ref)
);
CREATE TABLE service_step (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	service_task_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	kind VARCHAR(16) NOT NULL,
	text VARCHAR(200) NOT NULL,
	what VARCHAR(80),
	size VARCHAR(40),
	unit VARCHAR(20),
	low FLOAT(53),
	high FLOAT(53),
	amount FLOAT(53),
	tolerance FLOAT(53),
	before BOOLEAN NOT NULL,
	replace BOOLEAN NOT NULL,
	oxygen BOOLEAN NOT NULL,
	part_type_id INTEGER,
	source VARCHAR(300) NOT NULL,
	began_at TIMESTAMP WITH TIME ZONE,
	ended_at TIMESTAMP WITH TIME ZONE,
	supersedes_id INTEGER,
	CONSTRAINT pk_service_step PRIMARY KEY (id),
	CONSTRAINT ck_service_step_kind_word CHECK (kind IS NULL OR kind IN ('work', 'figure', 'torque', 'seal', 'lubricant', 'parts', 'photograph', 'second person')),
	CONSTRAINT uq_service_step_ref UNIQUE (ref)
);
CREATE TABLE service_task (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	text VARCHAR(200) NOT NULL,
	basis VARCHAR(10) NOT NULL,
	amount FLOAT(53),
	minutes FLOAT(53),
	roles VARCHAR(120),
	qualification VARCHAR(40),
	second_person BOOLEAN NOT NULL,
	critical BOOLEAN NOT NULL,
	source VARCHAR(300) NOT NULL,
	CONSTRAINT pk_service_task PRIMARY KEY (id),
	CONSTRAINT ck_service_task_basis_word CHECK (basis IS NULL OR basis IN ('months', 'hours', 'dives', 'hires', 'hand-back', 'assembly', 'flood')),
	CONSTRAINT uq_service_task_ref UNIQUE (ref)
);
CREATE TABLE service_work (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	task_id INTEGER NOT NULL,
	service_task_id INTEGER NOT NULL,
	CONSTRAINT pk_service_work PRIMARY KEY (id),
	CONSTRAINT uq_service_work_ref UNIQUE (ref)
);
CREATE TABLE sheet_signature (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	booking_unit_id INTEGER NOT NULL,
	party VARCHAR(8) NOT NULL,
	how VARCHAR(8) NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	digest VARCHAR(64),
	CONSTRAINT pk_sheet_signature PRIMARY KEY (id),
	CONSTRAINT ck_sheet_signature_party_word CHECK (party IS NULL OR party IN ('diver', 'centre')),
	CONSTRAINT ck_sheet_signature_how_word CHECK (how IS NULL OR how IN ('drawn', 'paper')),
	CONSTRAINT uq_sheet_signature_ref UNIQUE (ref)
);
CREATE TABLE signature_drawing (
	id INTEGER NOT NULL,
	sheet_signature_id INTEGER NOT NULL,
	strokes VARCHAR NOT NULL,
	salt VARCHAR(32) NOT NULL,
	CONSTRAINT pk_signature_drawing PRIMARY KEY (id)
);
CREATE TABLE signed_page (
	id INTEGER NOT NULL,
	salt VARCHAR(32) NOT NULL,
	sheet_signature_id INTEGER NOT NULL,
	sha256 VARCHAR(64) NOT NULL,
	size INTEGER NOT NULL,
	state VARCHAR(64) NOT NULL,
	CONSTRAINT pk_signed_page PRIMARY KEY (id)
);
CREATE TABLE slot (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_type_id INTEGER,
	assembly_type_id INTEGER,
	name VARCHAR(60) NOT NULL,
	kind VARCHAR(40) NOT NULL,
	critical BOOLEAN NOT NULL,
	ordinal INTEGER NOT NULL,
	flow_place INTEGER,
	oxygen_side BOOLEAN NOT NULL,
	CONSTRAINT pk_slot PRIMARY KEY (id),
	CONSTRAINT uq_slot_ref UNIQUE (ref)
);
CREATE TABLE slot_part_type (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	slot_id INTEGER NOT NULL,
	part_type_id INTEGER NOT NULL,
	CONSTRAINT pk_slot_part_type PRIMARY KEY (id),
	CONSTRAINT uq_slot_part_type_slot_part_type UNIQUE (slot_id, part_type_id),
	CONSTRAINT uq_slot_part_type_ref UNIQUE (ref)
);
CREATE TABLE step_result (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER NOT NULL,
	task_id INTEGER NOT NULL,
	service_step_id INTEGER NOT NULL,
	state VARCHAR(8) NOT NULL,
	settled_at TIMESTAMP WITH TIME ZONE,
	person_id INTEGER,
	before FLOAT(53),
	after FLOAT(53),
	seal VARCHAR(10),
	lubricant VARCHAR(80),
	lot VARCHAR(60),
	oxygen_compatible BOOLEAN,
	photograph VARCHAR(64),
	second_id INTEGER,
	reason VARCHAR(300),
	CONSTRAINT pk_step_result PRIMARY KEY (id),
	CONSTRAINT uq_step_result_task_service_step UNIQUE (task_id, service_step_id),
	CONSTRAINT ck_step_result_state_word CHECK (state IS NULL OR state IN ('to do', 'done', 'left out')),
	CONSTRAINT ck_step_result_seal_word CHECK (seal IS NULL OR seal IN ('inspected', 'replaced')),
	CONSTRAINT uq_step_result_ref UNIQUE (ref)
);
CREATE TABLE stock_count (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	part_type_id INTEGER NOT NULL,
	lot VARCHAR(60),
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	book INTEGER NOT NULL,
	counted INTEGER NOT NULL,
	reason VARCHAR(300) NOT NULL,
	CONSTRAINT pk_stock_count PRIMARY KEY (id),
	CONSTRAINT uq_stock_count_ref UNIQUE (ref)
);
CREATE TABLE stock_take (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	container_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	book_kg FLOAT(53) NOT NULL,
	counted_kg FLOAT(53) NOT NULL,
	reason VARCHAR(200) NOT NULL,
	CONSTRAINT pk_stock_take PRIMARY KEY (id),
	CONSTRAINT uq_stock_take_ref UNIQUE (ref)
);
CREATE TABLE task (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	text VARCHAR(300) NOT NULL,
	critical BOOLEAN NOT NULL,
	state VARCHAR(8) NOT NULL,
	minutes FLOAT(53),
	settled_at TIMESTAMP WITH TIME ZONE,
	person_id INTEGER,
	put_off_reason VARCHAR,
	times_put_off INTEGER NOT NULL,
	second_person BOOLEAN,
	CONSTRAINT pk_task PRIMARY KEY (id),
	CONSTRAINT ck_task_state_word CHECK (state IS NULL OR state IN ('to do', 'done', 'put off')),
	CONSTRAINT uq_task_ref UNIQUE (ref)
);
CREATE TABLE test_equipment (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	kind VARCHAR(20) NOT NULL,
	name VARCHAR(120) NOT NULL,
	serial VARCHAR(60) NOT NULL,
	uncertainty FLOAT(53),
	unit VARCHAR(12),
	last_good_day DATE,
	digit FLOAT(53),
	address VARCHAR(120),
	query VARCHAR(80),
	answer_unit VARCHAR(12),
	range_low FLOAT(53),
	range_high FLOAT(53),
	idn VARCHAR(256),
	CONSTRAINT pk_test_equipment PRIMARY KEY (id),
	CONSTRAINT ck_test_equipment_kind_word CHECK (kind IS NULL OR kind IN ('analyser', 'barometer', 'hygrometer', 'thermometer', 'bench meter', 'gauge', 'manometer', 'scale', 'pressure pot', 'flow meter', 'reference cell', 'analyser cell', 'helium analyser')),
	CONSTRAINT uq_test_equipment_ref UNIQUE (ref),
	CONSTRAINT uq_test_equipment_serial UNIQUE (serial)
);
CREATE TABLE ticket (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	year INTEGER NOT NULL,
	number INTEGER NOT NULL,
	unit_id INTEGER NOT NULL,
	cause VARCHAR(20) NOT NULL,
	reason VARCHAR NOT NULL,
	critical BOOLEAN NOT NULL,
	opened_at TIMESTAMP WITH TIME ZONE NOT NULL,
	opened_by_id INTEGER NOT NULL,
	minutes FLOAT(53) NOT NULL,
	refers_to_id INTEGER,
	signed_at TIMESTAMP WITH TIME ZONE,
	signed_by_id INTEGER,
	version INTEGER NOT NULL,
	second_id INTEGER,
	withdrawn_at TIMESTAMP WITH TIME ZONE,
	CONSTRAINT pk_ticket PRIMARY KEY (id),
	CONSTRAINT uq_ticket_year_number UNIQUE (year, number),
	CONSTRAINT ck_ticket_cause_word CHECK (cause IS NULL OR cause IN ('due item', 'hold', 'hand-back', 'failed test', 'course', 'by hand', 'turn-round', 'near miss')),
	CONSTRAINT uq_ticket_ref UNIQUE (ref)
);
CREATE TABLE ticket_material (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER NOT NULL,
	part_id INTEGER,
	kind VARCHAR(10) NOT NULL,
	name VARCHAR(80) NOT NULL,
	lot VARCHAR(60) NOT NULL,
	oxygen_compatible BOOLEAN,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER,
	CONSTRAINT pk_ticket_material PRIMARY KEY (id),
	CONSTRAINT ck_ticket_material_kind_word CHECK (kind IS NULL OR kind IN ('lubricant', 'seal kit')),
	CONSTRAINT uq_ticket_material_ref UNIQUE (ref)
);
CREATE TABLE ticket_time (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	ticket_id INTEGER NOT NULL,
	person_id INTEGER,
	began_at TIMESTAMP WITH TIME ZONE NOT NULL,
	ended_at TIMESTAMP WITH TIME ZONE,
	minutes FLOAT(53),
	supersedes_id INTEGER,
	supersedes_reason VARCHAR(120),
	CONSTRAINT pk_ticket_time PRIMARY KEY (id),
	CONSTRAINT uq_ticket_time_ref UNIQUE (ref)
);
CREATE TABLE turn_round (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	unit_id INTEGER NOT NULL,
	booking_unit_id INTEGER,
	opened_at TIMESTAMP WITH TIME ZONE NOT NULL,
	opened_by_id INTEGER,
	flooded_at TIMESTAMP WITH TIME ZONE,
	finished_at TIMESTAMP WITH TIME ZONE,
	finished_by_id INTEGER,
	ticket_id INTEGER,
	version INTEGER NOT NULL,
	CONSTRAINT pk_turn_round PRIMARY KEY (id),
	CONSTRAINT uq_turn_round_ref UNIQUE (ref)
);
CREATE TABLE turn_round_line (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	turn_round_id INTEGER NOT NULL,
	ordinal INTEGER NOT NULL,
	step VARCHAR(24) NOT NULL,
	service_task_id INTEGER,
	state VARCHAR(8) NOT NULL,
	settled_at TIMESTAMP WITH TIME ZONE,
	person_id INTEGER,
	how VARCHAR(200),
	CONSTRAINT pk_turn_round_line PRIMARY KEY (id),
	CONSTRAINT uq_turn_round_line_turn_round_id UNIQUE (turn_round_id, ordinal),
	CONSTRAINT ck_turn_round_line_step_word CHECK (step IS NULL OR step IN ('cylinders', 'batteries out', 'absorbent', 'cells out', 'opened up', 'head', 'strip', 'rinse', 'disinfect', 'rinse again', 'dry', 'valves', 'oxygen clean', 'assemble', 'tests', 'batteries', 'calibrate', 'calibrate again', 'settings', 'previous data', 'service')),
	CONSTRAINT ck_turn_round_line_state_word CHECK (state IS NULL OR state IN ('to do', 'done', 'left out')),
	CONSTRAINT uq_turn_round_line_ref UNIQUE (ref)
);
CREATE TABLE unit (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	tag VARCHAR(30) NOT NULL,
	former_tag VARCHAR(30),
	unit_type_id INTEGER NOT NULL,
	serial VARCHAR(60),
	owner_id INTEGER NOT NULL,
	place_id INTEGER,
	in_service_on DATE,
	retired_on DATE,
	harness VARCHAR(20),
	version INTEGER NOT NULL,
	in_service_precision VARCHAR(10),
	CONSTRAINT pk_unit PRIMARY KEY (id),
	CONSTRAINT ck_unit_in_service_precision_word CHECK (in_service_precision IS NULL OR in_service_precision IN ('day', 'month', 'quarter', 'year')),
	CONSTRAINT uq_unit_ref UNIQUE (ref),
	CONSTRAINT uq_unit_tag UNIQUE (tag),
	CONSTRAINT uq_unit_former_tag UNIQUE (former_tag)
);
CREATE TABLE unit_swap (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	failed_id INTEGER NOT NULL,
	instead_id INTEGER NOT NULL,
	at TIMESTAMP WITH TIME ZONE NOT NULL,
	person_id INTEGER NOT NULL,
	reason VARCHAR(300) NOT NULL,
	CONSTRAINT pk_unit_swap PRIMARY KEY (id),
	CONSTRAINT uq_unit_swap_ref UNIQUE (ref)
);
CREATE TABLE unit_type (
	id INTEGER NOT NULL,
	ref VARCHAR(80),
	code VARCHAR(40) NOT NULL,
	name VARCHAR(120) NOT NULL,
	build VARCHAR(20) NOT NULL,
	loop_volume_l FLOAT(53),
	head_volume_l FLOAT(53),
	flush_l_min FLOAT(53),
	first_stage_blocked BOOLEAN,
	set_point_low_bar FLOAT(53),
	set_point_high_bar FLOAT(53),
	manual VARCHAR(300) NOT NULL,
	CONSTRAINT pk_unit_type PRIMARY KEY (id),
	CONSTRAINT ck_unit_type_build_word CHECK (build IS NULL OR build IN ('back-mounted', 'chest-mounted', 'side-mounted', 'not known')),
	CONSTRAINT uq_unit_type_ref UNIQUE (ref),
	CONSTRAINT uq_unit_type_code UNIQUE (code)
);
ALTER TABLE absence ADD CONSTRAINT fk_absence_place_id FOREIGN KEY(place_id) REFERENCES place (id);
ALTER TABLE absence ADD CONSTRAINT fk_absence_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_absence_place_id ON absence (place_id);
CREATE INDEX ix_absence_unit_id ON absence (unit_id);
ALTER TABLE acceptance ADD CONSTRAINT fk_acceptance_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE acceptance ADD CONSTRAINT fk_acceptance_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_acceptance_person_id ON acceptance (person_id);
CREATE INDEX ix_acceptance_unit_id ON acceptance (unit_id);
ALTER TABLE accepted_plan ADD CONSTRAINT fk_accepted_plan_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_accepted_plan_person_id ON accepted_plan (person_id);
ALTER TABLE accessory ADD CONSTRAINT fk_accessory_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_accessory_unit_type_id ON accessory (unit_type_id);
ALTER TABLE accessory_count ADD CONSTRAINT fk_accessory_count_accessory_id FOREIGN KEY(accessory_id) REFERENCES accessory (id);
ALTER TABLE accessory_count ADD CONSTRAINT fk_accessory_count_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
CREATE INDEX ix_accessory_count_accessory_id ON accessory_count (accessory_id);
CREATE INDEX ix_accessory_count_booking_unit_id ON accessory_count (booking_unit_id);
ALTER TABLE approved_firmware ADD CONSTRAINT fk_approved_firmware_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_approved_firmware_unit_type_id ON approved_firmware (unit_type_id);
ALTER TABLE bath ADD CONSTRAINT fk_bath_disinfectant_id FOREIGN KEY(disinfectant_id) REFERENCES disinfectant (id);
ALTER TABLE bath ADD CONSTRAINT fk_bath_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_bath_disinfectant_id ON bath (disinfectant_id);
CREATE INDEX ix_bath_person_id ON bath (person_id);
ALTER TABLE bath_loop ADD CONSTRAINT fk_bath_loop_bath_id FOREIGN KEY(bath_id) REFERENCES bath (id);
ALTER TABLE bath_loop ADD CONSTRAINT fk_bath_loop_disinfection_id FOREIGN KEY(disinfection_id) REFERENCES disinfection (id);
ALTER TABLE bath_loop ADD CONSTRAINT fk_bath_loop_part_id FOREIGN KEY(part_id) REFERENCES part (id);
CREATE INDEX ix_bath_loop_bath_id ON bath_loop (bath_id);
CREATE UNIQUE INDEX ix_bath_loop_disinfection_id ON bath_loop (disinfection_id);
CREATE INDEX ix_bath_loop_part_id ON bath_loop (part_id);
ALTER TABLE bench_reading ADD CONSTRAINT fk_bench_reading_bench_test_id FOREIGN KEY(bench_test_id) REFERENCES bench_test (id);
ALTER TABLE bench_reading ADD CONSTRAINT fk_bench_reading_equipment_id FOREIGN KEY(equipment_id) REFERENCES test_equipment (id);
CREATE INDEX ix_bench_reading_equipment_id ON bench_reading (equipment_id);
ALTER TABLE bench_session ADD CONSTRAINT fk_bench_session_analyser_id FOREIGN KEY(analyser_id) REFERENCES test_equipment (id);
ALTER TABLE bench_session ADD CONSTRAINT fk_bench_session_barometer_id FOREIGN KEY(barometer_id) REFERENCES test_equipment (id);
ALTER TABLE bench_session ADD CONSTRAINT fk_bench_session_hygrometer_id FOREIGN KEY(hygrometer_id) REFERENCES test_equipment (id);
ALTER TABLE bench_session ADD CONSTRAINT fk_bench_session_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_bench_session_analyser_id ON bench_session (analyser_id);
CREATE INDEX ix_bench_session_barometer_id ON bench_session (barometer_id);
CREATE INDEX ix_bench_session_hygrometer_id ON bench_session (hygrometer_id);
CREATE INDEX ix_bench_session_person_id ON bench_session (person_id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_equipment_id FOREIGN KEY(equipment_id) REFERENCES test_equipment (id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES bench_test (id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE bench_test ADD CONSTRAINT fk_bench_test_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_bench_test_equipment_id ON bench_test (equipment_id);
CREATE INDEX ix_bench_test_part_id ON bench_test (part_id);
CREATE INDEX ix_bench_test_person_id ON bench_test (person_id);
CREATE INDEX ix_bench_test_supersedes_id ON bench_test (supersedes_id);
CREATE INDEX ix_bench_test_ticket_id ON bench_test (ticket_id);
CREATE INDEX ix_bench_test_unit_id ON bench_test (unit_id);
ALTER TABLE booking ADD CONSTRAINT fk_booking_instructor_id FOREIGN KEY(instructor_id) REFERENCES person (id);
ALTER TABLE booking ADD CONSTRAINT fk_booking_renter_id FOREIGN KEY(renter_id) REFERENCES person (id);
ALTER TABLE booking ADD CONSTRAINT fk_booking_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_booking_ends_on ON booking (ends_on);
CREATE INDEX ix_booking_instructor_id ON booking (instructor_id);
CREATE INDEX ix_booking_renter_id ON booking (renter_id);
CREATE INDEX ix_booking_starts_on ON booking (starts_on);
CREATE INDEX ix_booking_unit_type_id ON booking (unit_type_id);
ALTER TABLE booking_diver ADD CONSTRAINT fk_booking_diver_booking_id FOREIGN KEY(booking_id) REFERENCES booking (id);
ALTER TABLE booking_diver ADD CONSTRAINT fk_booking_diver_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_booking_diver_booking_id ON booking_diver (booking_id);
CREATE INDEX ix_booking_diver_person_id ON booking_diver (person_id);
ALTER TABLE booking_terms ADD CONSTRAINT fk_booking_terms_booking_id FOREIGN KEY(booking_id) REFERENCES booking (id);
CREATE UNIQUE INDEX ix_booking_terms_booking_id ON booking_terms (booking_id);
ALTER TABLE booking_unit ADD CONSTRAINT fk_booking_unit_booking_id FOREIGN KEY(booking_id) REFERENCES booking (id);
ALTER TABLE booking_unit ADD CONSTRAINT fk_booking_unit_diver_id FOREIGN KEY(diver_id) REFERENCES person (id);
ALTER TABLE booking_unit ADD CONSTRAINT fk_booking_unit_out_by_id FOREIGN KEY(out_by_id) REFERENCES person (id);
ALTER TABLE booking_unit ADD CONSTRAINT fk_booking_unit_received_by_id FOREIGN KEY(received_by_id) REFERENCES person (id);
ALTER TABLE booking_unit ADD CONSTRAINT fk_booking_unit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_booking_unit_booking_id ON booking_unit (booking_id);
CREATE INDEX ix_booking_unit_diver_id ON booking_unit (diver_id);
CREATE INDEX ix_booking_unit_out_by_id ON booking_unit (out_by_id);
CREATE INDEX ix_booking_unit_received_by_id ON booking_unit (received_by_id);
CREATE INDEX ix_booking_unit_unit_id ON booking_unit (unit_id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_analyser_id FOREIGN KEY(analyser_id) REFERENCES test_equipment (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_barometer_id FOREIGN KEY(barometer_id) REFERENCES test_equipment (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_comparison_id FOREIGN KEY(comparison_id) REFERENCES calibration (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_session_id FOREIGN KEY(session_id) REFERENCES bench_session (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES calibration (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE calibration ADD CONSTRAINT fk_calibration_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_calibration_analyser_id ON calibration (analyser_id);
CREATE INDEX ix_calibration_at ON calibration (at);
CREATE INDEX ix_calibration_barometer_id ON calibration (barometer_id);
CREATE INDEX ix_calibration_comparison_id ON calibration (comparison_id);
CREATE INDEX ix_calibration_person_id ON calibration (person_id);
CREATE INDEX ix_calibration_session_id ON calibration (session_id);
CREATE INDEX ix_calibration_supersedes_id ON calibration (supersedes_id);
CREATE INDEX ix_calibration_ticket_id ON calibration (ticket_id);
CREATE INDEX ix_calibration_unit_id ON calibration (unit_id);
ALTER TABLE calibration_outcome ADD CONSTRAINT fk_calibration_outcome_calibration_id FOREIGN KEY(calibration_id) REFERENCES calibration (id);
ALTER TABLE calibration_outcome ADD CONSTRAINT fk_calibration_outcome_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE calibration_outcome ADD CONSTRAINT fk_calibration_outcome_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
CREATE INDEX ix_calibration_outcome_calibration_id ON calibration_outcome (calibration_id);
CREATE INDEX ix_calibration_outcome_part_id ON calibration_outcome (part_id);
ALTER TABLE calibration_reading ADD CONSTRAINT fk_calibration_reading_calibration_id FOREIGN KEY(calibration_id) REFERENCES calibration (id);
ALTER TABLE calibration_reading ADD CONSTRAINT fk_calibration_reading_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE calibration_reading ADD CONSTRAINT fk_calibration_reading_reader_id FOREIGN KEY(reader_id) REFERENCES reader (id);
ALTER TABLE calibration_reading ADD CONSTRAINT fk_calibration_reading_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
CREATE INDEX ix_calibration_reading_calibration_id ON calibration_reading (calibration_id);
CREATE INDEX ix_calibration_reading_part_id ON calibration_reading (part_id);
ALTER TABLE clean_loss ADD CONSTRAINT fk_clean_loss_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE clean_loss ADD CONSTRAINT fk_clean_loss_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE clean_loss ADD CONSTRAINT fk_clean_loss_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_clean_loss_part_id ON clean_loss (part_id);
CREATE INDEX ix_clean_loss_person_id ON clean_loss (person_id);
CREATE INDEX ix_clean_loss_ticket_id ON clean_loss (ticket_id);
ALTER TABLE container ADD CONSTRAINT fk_container_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE container ADD CONSTRAINT fk_container_place_id FOREIGN KEY(place_id) REFERENCES place (id);
CREATE INDEX ix_container_lot ON container (lot);
CREATE INDEX ix_container_part_type_id ON container (part_type_id);
CREATE INDEX ix_container_place_id ON container (place_id);
ALTER TABLE cylinder ADD CONSTRAINT fk_cylinder_part_id FOREIGN KEY(part_id) REFERENCES part (id);
CREATE UNIQUE INDEX ix_cylinder_part_id ON cylinder (part_id);
ALTER TABLE cylinder_fill ADD CONSTRAINT fk_cylinder_fill_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE cylinder_fill ADD CONSTRAINT fk_cylinder_fill_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE cylinder_fill ADD CONSTRAINT fk_cylinder_fill_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES cylinder_fill (id);
CREATE INDEX ix_cylinder_fill_part_id ON cylinder_fill (part_id);
CREATE INDEX ix_cylinder_fill_person_id ON cylinder_fill (person_id);
CREATE INDEX ix_cylinder_fill_supersedes_id ON cylinder_fill (supersedes_id);
ALTER TABLE cylinder_reading ADD CONSTRAINT fk_cylinder_reading_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE cylinder_reading ADD CONSTRAINT fk_cylinder_reading_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_cylinder_reading_part_id ON cylinder_reading (part_id);
CREATE INDEX ix_cylinder_reading_person_id ON cylinder_reading (person_id);
ALTER TABLE disinfectant ADD CONSTRAINT fk_disinfectant_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_disinfectant_unit_type_id ON disinfectant (unit_type_id);
ALTER TABLE disinfection ADD CONSTRAINT fk_disinfection_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE disinfection ADD CONSTRAINT fk_disinfection_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE disinfection ADD CONSTRAINT fk_disinfection_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_disinfection_person_id ON disinfection (person_id);
CREATE INDEX ix_disinfection_ticket_id ON disinfection (ticket_id);
CREATE INDEX ix_disinfection_unit_id ON disinfection (unit_id);
ALTER TABLE drying ADD CONSTRAINT fk_drying_disinfection_id FOREIGN KEY(disinfection_id) REFERENCES disinfection (id);
ALTER TABLE drying ADD CONSTRAINT fk_drying_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_drying_disinfection_id ON drying (disinfection_id);
CREATE INDEX ix_drying_person_id ON drying (person_id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_container_id FOREIGN KEY(container_id) REFERENCES container (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_discarded_by_id FOREIGN KEY(discarded_by_id) REFERENCES person (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_diver_id FOREIGN KEY(diver_id) REFERENCES person (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_packed_by_id FOREIGN KEY(packed_by_id) REFERENCES person (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE fill ADD CONSTRAINT fk_fill_scale_id FOREIGN KEY(scale_id) REFERENCES test_equipment (id);
CREATE INDEX ix_fill_booking_unit_id ON fill (booking_unit_id);
CREATE INDEX ix_fill_container_id ON fill (container_id);
CREATE INDEX ix_fill_discarded_by_id ON fill (discarded_by_id);
CREATE INDEX ix_fill_diver_id ON fill (diver_id);
CREATE INDEX ix_fill_packed_by_id ON fill (packed_by_id);
CREATE INDEX ix_fill_part_id ON fill (part_id);
CREATE INDEX ix_fill_scale_id ON fill (scale_id);
ALTER TABLE fill_event ADD CONSTRAINT fk_fill_event_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE fill_event ADD CONSTRAINT fk_fill_event_diver_id FOREIGN KEY(diver_id) REFERENCES person (id);
ALTER TABLE fill_event ADD CONSTRAINT fk_fill_event_fill_id FOREIGN KEY(fill_id) REFERENCES fill (id);
ALTER TABLE fill_event ADD CONSTRAINT fk_fill_event_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_fill_event_booking_unit_id ON fill_event (booking_unit_id);
CREATE INDEX ix_fill_event_diver_id ON fill_event (diver_id);
CREATE INDEX ix_fill_event_fill_id ON fill_event (fill_id);
CREATE INDEX ix_fill_event_person_id ON fill_event (person_id);
ALTER TABLE finding ADD CONSTRAINT fk_finding_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE finding ADD CONSTRAINT fk_finding_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES finding (id);
ALTER TABLE finding ADD CONSTRAINT fk_finding_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_finding_person_id ON finding (person_id);
CREATE INDEX ix_finding_supersedes_id ON finding (supersedes_id);
CREATE INDEX ix_finding_ticket_id ON finding (ticket_id);
ALTER TABLE firmware_change ADD CONSTRAINT fk_firmware_change_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE firmware_change ADD CONSTRAINT fk_firmware_change_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_firmware_change_part_id ON firmware_change (part_id);
CREATE INDEX ix_firmware_change_person_id ON firmware_change (person_id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_fitted_by_id FOREIGN KEY(fitted_by_id) REFERENCES person (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_host_part_id FOREIGN KEY(host_part_id) REFERENCES part (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_removal_ticket_id FOREIGN KEY(removal_ticket_id) REFERENCES ticket (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_removed_by_id FOREIGN KEY(removed_by_id) REFERENCES person (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE fitting ADD CONSTRAINT fk_fitting_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_fitting_fitted_by_id ON fitting (fitted_by_id);
CREATE INDEX ix_fitting_host_part_id ON fitting (host_part_id);
CREATE INDEX ix_fitting_part_id ON fitting (part_id);
CREATE INDEX ix_fitting_removal_ticket_id ON fitting (removal_ticket_id);
CREATE INDEX ix_fitting_removed_by_id ON fitting (removed_by_id);
CREATE INDEX ix_fitting_slot_id ON fitting (slot_id);
CREATE INDEX ix_fitting_ticket_id ON fitting (ticket_id);
CREATE INDEX ix_fitting_unit_id ON fitting (unit_id);
CREATE UNIQUE INDEX uq_fitting_host_slot ON fitting (host_part_id, slot_id) WHERE removed_at IS NULL AND host_part_id IS NOT NULL;
CREATE UNIQUE INDEX uq_fitting_one_place ON fitting (part_id) WHERE removed_at IS NULL;
CREATE UNIQUE INDEX uq_fitting_unit_slot ON fitting (unit_id, slot_id) WHERE removed_at IS NULL AND unit_id IS NOT NULL;
ALTER TABLE gas_analysis ADD CONSTRAINT fk_gas_analysis_analyser_id FOREIGN KEY(analyser_id) REFERENCES test_equipment (id);
ALTER TABLE gas_analysis ADD CONSTRAINT fk_gas_analysis_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE gas_analysis ADD CONSTRAINT fk_gas_analysis_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE gas_analysis ADD CONSTRAINT fk_gas_analysis_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES gas_analysis (id);
CREATE INDEX ix_gas_analysis_analyser_id ON gas_analysis (analyser_id);
CREATE INDEX ix_gas_analysis_part_id ON gas_analysis (part_id);
CREATE INDEX ix_gas_analysis_person_id ON gas_analysis (person_id);
CREATE INDEX ix_gas_analysis_supersedes_id ON gas_analysis (supersedes_id);
ALTER TABLE gas_certificate ADD CONSTRAINT fk_gas_certificate_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_gas_certificate_batch ON gas_certificate (batch);
CREATE INDEX ix_gas_certificate_person_id ON gas_certificate (person_id);
ALTER TABLE gas_certificate_line ADD CONSTRAINT fk_gas_certificate_line_gas_certificate_id FOREIGN KEY(gas_certificate_id) REFERENCES gas_certificate (id);
ALTER TABLE hand_back ADD CONSTRAINT fk_hand_back_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE hand_back ADD CONSTRAINT fk_hand_back_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE UNIQUE INDEX ix_hand_back_booking_unit_id ON hand_back (booking_unit_id);
CREATE INDEX ix_hand_back_person_id ON hand_back (person_id);
ALTER TABLE hand_over ADD CONSTRAINT fk_hand_over_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE hand_over ADD CONSTRAINT fk_hand_over_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE UNIQUE INDEX ix_hand_over_booking_unit_id ON hand_over (booking_unit_id);
CREATE INDEX ix_hand_over_person_id ON hand_over (person_id);
ALTER TABLE handset_look ADD CONSTRAINT fk_handset_look_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE handset_look ADD CONSTRAINT fk_handset_look_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_handset_look_person_id ON handset_look (person_id);
CREATE INDEX ix_handset_look_unit_id ON handset_look (unit_id);
ALTER TABLE handset_setting ADD CONSTRAINT fk_handset_setting_calibration_id FOREIGN KEY(calibration_id) REFERENCES calibration (id);
ALTER TABLE handset_setting ADD CONSTRAINT fk_handset_setting_reader_id FOREIGN KEY(reader_id) REFERENCES reader (id);
ALTER TABLE handset_setting ADD CONSTRAINT fk_handset_setting_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_handset_setting_calibration_id ON handset_setting (calibration_id);
CREATE INDEX ix_handset_setting_reader_id ON handset_setting (reader_id);
CREATE INDEX ix_handset_setting_unit_id ON handset_setting (unit_id);
ALTER TABLE hire_call ADD CONSTRAINT fk_hire_call_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE hire_call ADD CONSTRAINT fk_hire_call_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_hire_call_booking_unit_id ON hire_call (booking_unit_id);
CREATE INDEX ix_hire_call_person_id ON hire_call (person_id);
ALTER TABLE hire_note ADD CONSTRAINT fk_hire_note_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
CREATE INDEX ix_hire_note_booking_unit_id ON hire_note (booking_unit_id);
ALTER TABLE hold ADD CONSTRAINT fk_hold_lifted_by_id FOREIGN KEY(lifted_by_id) REFERENCES person (id);
ALTER TABLE hold ADD CONSTRAINT fk_hold_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE hold ADD CONSTRAINT fk_hold_placed_by_id FOREIGN KEY(placed_by_id) REFERENCES person (id);
ALTER TABLE hold ADD CONSTRAINT fk_hold_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_hold_lifted_by_id ON hold (lifted_by_id);
CREATE INDEX ix_hold_part_id ON hold (part_id);
CREATE INDEX ix_hold_placed_by_id ON hold (placed_by_id);
CREATE INDEX ix_hold_unit_id ON hold (unit_id);
ALTER TABLE journal ADD CONSTRAINT fk_journal_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_journal_at ON journal (at);
CREATE INDEX ix_journal_person_id ON journal (person_id);
CREATE INDEX ix_journal_subject ON journal (subject);
ALTER TABLE kit_content ADD CONSTRAINT fk_kit_content_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE kit_content ADD CONSTRAINT fk_kit_content_place_id FOREIGN KEY(place_id) REFERENCES place (id);
CREATE INDEX ix_kit_content_part_type_id ON kit_content (part_type_id);
CREATE INDEX ix_kit_content_place_id ON kit_content (place_id);
ALTER TABLE leak ADD CONSTRAINT fk_leak_bench_test_id FOREIGN KEY(bench_test_id) REFERENCES bench_test (id);
ALTER TABLE leak ADD CONSTRAINT fk_leak_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE leak ADD CONSTRAINT fk_leak_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
ALTER TABLE leak ADD CONSTRAINT fk_leak_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES leak (id);
ALTER TABLE leak ADD CONSTRAINT fk_leak_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_leak_bench_test_id ON leak (bench_test_id);
CREATE INDEX ix_leak_person_id ON leak (person_id);
CREATE INDEX ix_leak_slot_id ON leak (slot_id);
CREATE INDEX ix_leak_supersedes_id ON leak (supersedes_id);
CREATE INDEX ix_leak_ticket_id ON leak (ticket_id);
ALTER TABLE legal_hold ADD CONSTRAINT fk_legal_hold_lifted_by_id FOREIGN KEY(lifted_by_id) REFERENCES person (id);
ALTER TABLE legal_hold ADD CONSTRAINT fk_legal_hold_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE legal_hold ADD CONSTRAINT fk_legal_hold_placed_by_id FOREIGN KEY(placed_by_id) REFERENCES person (id);
CREATE INDEX ix_legal_hold_lifted_by_id ON legal_hold (lifted_by_id);
CREATE INDEX ix_legal_hold_person_id ON legal_hold (person_id);
CREATE INDEX ix_legal_hold_placed_by_id ON legal_hold (placed_by_id);
ALTER TABLE limit_value ADD CONSTRAINT fk_limit_value_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE limit_value ADD CONSTRAINT fk_limit_value_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_limit_value_part_type_id ON limit_value (part_type_id);
CREATE INDEX ix_limit_value_unit_type_id ON limit_value (unit_type_id);
ALTER TABLE log_reading ADD CONSTRAINT fk_log_reading_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE log_reading ADD CONSTRAINT fk_log_reading_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE log_reading ADD CONSTRAINT fk_log_reading_run_id FOREIGN KEY(run_id) REFERENCES run (id);
ALTER TABLE log_reading ADD CONSTRAINT fk_log_reading_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_log_reading_booking_unit_id ON log_reading (booking_unit_id);
CREATE INDEX ix_log_reading_part_id ON log_reading (part_id);
CREATE INDEX ix_log_reading_run_id ON log_reading (run_id);
CREATE INDEX ix_log_reading_unit_id ON log_reading (unit_id);
ALTER TABLE meter_reading ADD CONSTRAINT fk_meter_reading_equipment_id FOREIGN KEY(equipment_id) REFERENCES test_equipment (id);
CREATE INDEX ix_meter_reading_equipment_id ON meter_reading (equipment_id);
CREATE INDEX ix_meter_reading_made_of ON meter_reading (made_of);
ALTER TABLE notice_done ADD CONSTRAINT fk_notice_done_notice_id FOREIGN KEY(notice_id) REFERENCES notice (id);
ALTER TABLE notice_done ADD CONSTRAINT fk_notice_done_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE notice_done ADD CONSTRAINT fk_notice_done_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_notice_done_notice_id ON notice_done (notice_id);
CREATE INDEX ix_notice_done_person_id ON notice_done (person_id);
CREATE INDEX ix_notice_done_unit_id ON notice_done (unit_id);
ALTER TABLE notice_scope ADD CONSTRAINT fk_notice_scope_notice_id FOREIGN KEY(notice_id) REFERENCES notice (id);
CREATE INDEX ix_notice_scope_notice_id ON notice_scope (notice_id);
ALTER TABLE opening ADD CONSTRAINT fk_opening_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE opening ADD CONSTRAINT fk_opening_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE opening ADD CONSTRAINT fk_opening_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_opening_person_id ON opening (person_id);
CREATE INDEX ix_opening_ticket_id ON opening (ticket_id);
CREATE INDEX ix_opening_unit_id ON opening (unit_id);
ALTER TABLE part ADD CONSTRAINT fk_part_owner_id FOREIGN KEY(owner_id) REFERENCES owner (id);
ALTER TABLE part ADD CONSTRAINT fk_part_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE part ADD CONSTRAINT fk_part_place_id FOREIGN KEY(place_id) REFERENCES place (id);
CREATE INDEX ix_part_lot ON part (lot);
CREATE INDEX ix_part_owner_id ON part (owner_id);
CREATE INDEX ix_part_part_type_id ON part (part_type_id);
CREATE INDEX ix_part_place_id ON part (place_id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_place_before_id FOREIGN KEY(place_before_id) REFERENCES place (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_place_id FOREIGN KEY(place_id) REFERENCES place (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_step_result_id FOREIGN KEY(step_result_id) REFERENCES step_result (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE part_event ADD CONSTRAINT fk_part_event_undoes_id FOREIGN KEY(undoes_id) REFERENCES part_event (id);
CREATE INDEX ix_part_event_part_id ON part_event (part_id);
CREATE INDEX ix_part_event_person_id ON part_event (person_id);
CREATE INDEX ix_part_event_place_before_id ON part_event (place_before_id);
CREATE INDEX ix_part_event_place_id ON part_event (place_id);
CREATE INDEX ix_part_event_step_result_id ON part_event (step_result_id);
CREATE INDEX ix_part_event_ticket_id ON part_event (ticket_id);
CREATE UNIQUE INDEX ix_part_event_undoes_id ON part_event (undoes_id);
ALTER TABLE part_order ADD CONSTRAINT fk_part_order_ordered_by_id FOREIGN KEY(ordered_by_id) REFERENCES person (id);
ALTER TABLE part_order ADD CONSTRAINT fk_part_order_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
CREATE INDEX ix_part_order_ordered_by_id ON part_order (ordered_by_id);
CREATE INDEX ix_part_order_part_type_id ON part_order (part_type_id);
ALTER TABLE part_proof ADD CONSTRAINT fk_part_proof_bench_test_id FOREIGN KEY(bench_test_id) REFERENCES bench_test (id);
ALTER TABLE part_proof ADD CONSTRAINT fk_part_proof_outcome_id FOREIGN KEY(outcome_id) REFERENCES calibration_outcome (id);
ALTER TABLE part_proof ADD CONSTRAINT fk_part_proof_part_event_id FOREIGN KEY(part_event_id) REFERENCES part_event (id);
CREATE INDEX ix_part_proof_bench_test_id ON part_proof (bench_test_id);
CREATE INDEX ix_part_proof_outcome_id ON part_proof (outcome_id);
CREATE INDEX ix_part_proof_part_event_id ON part_proof (part_event_id);
ALTER TABLE part_test ADD CONSTRAINT fk_part_test_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE part_test ADD CONSTRAINT fk_part_test_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE part_test ADD CONSTRAINT fk_part_test_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_part_test_part_id ON part_test (part_id);
CREATE INDEX ix_part_test_person_id ON part_test (person_id);
CREATE INDEX ix_part_test_ticket_id ON part_test (ticket_id);
CREATE INDEX ix_part_type_kind ON part_type (kind);
ALTER TABLE part_type_life ADD CONSTRAINT fk_part_type_life_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
CREATE INDEX ix_part_type_life_part_type_id ON part_type_life (part_type_id);
ALTER TABLE person_pin ADD CONSTRAINT fk_person_pin_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE UNIQUE INDEX ix_person_pin_person_id ON person_pin (person_id);
ALTER TABLE person_private ADD CONSTRAINT fk_person_private_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE UNIQUE INDEX ix_person_private_person_id ON person_private (person_id);
ALTER TABLE photograph ADD CONSTRAINT fk_photograph_bench_test_id FOREIGN KEY(bench_test_id) REFERENCES bench_test (id);
ALTER TABLE photograph ADD CONSTRAINT fk_photograph_calibration_id FOREIGN KEY(calibration_id) REFERENCES calibration (id);
ALTER TABLE photograph ADD CONSTRAINT fk_photograph_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE photograph ADD CONSTRAINT fk_photograph_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_photograph_bench_test_id ON photograph (bench_test_id);
CREATE INDEX ix_photograph_calibration_id ON photograph (calibration_id);
CREATE INDEX ix_photograph_person_id ON photograph (person_id);
CREATE INDEX ix_photograph_ticket_id ON photograph (ticket_id);
ALTER TABLE qualification ADD CONSTRAINT fk_qualification_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE qualification ADD CONSTRAINT fk_qualification_seen_by_id FOREIGN KEY(seen_by_id) REFERENCES person (id);
ALTER TABLE qualification ADD CONSTRAINT fk_qualification_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_qualification_person_id ON qualification (person_id);
CREATE INDEX ix_qualification_seen_by_id ON qualification (seen_by_id);
CREATE INDEX ix_qualification_unit_type_id ON qualification (unit_type_id);
ALTER TABLE rating_row ADD CONSTRAINT fk_rating_row_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
CREATE INDEX ix_rating_row_part_type_id ON rating_row (part_type_id);
ALTER TABLE reader ADD CONSTRAINT fk_reader_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
ALTER TABLE reader ADD CONSTRAINT fk_reader_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_reader_slot_id ON reader (slot_id);
CREATE INDEX ix_reader_unit_type_id ON reader (unit_type_id);
ALTER TABLE reader_cell ADD CONSTRAINT fk_reader_cell_cell_slot_id FOREIGN KEY(cell_slot_id) REFERENCES slot (id);
ALTER TABLE reader_cell ADD CONSTRAINT fk_reader_cell_reader_id FOREIGN KEY(reader_id) REFERENCES reader (id);
CREATE INDEX ix_reader_cell_cell_slot_id ON reader_cell (cell_slot_id);
CREATE INDEX ix_reader_cell_reader_id ON reader_cell (reader_id);
ALTER TABLE run ADD CONSTRAINT fk_run_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE run ADD CONSTRAINT fk_run_diver_id FOREIGN KEY(diver_id) REFERENCES person (id);
ALTER TABLE run ADD CONSTRAINT fk_run_fill_id FOREIGN KEY(fill_id) REFERENCES fill (id);
ALTER TABLE run ADD CONSTRAINT fk_run_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_run_booking_unit_id ON run (booking_unit_id);
CREATE INDEX ix_run_diver_id ON run (diver_id);
CREATE INDEX ix_run_fill_id ON run (fill_id);
CREATE INDEX ix_run_unit_id ON run (unit_id);
ALTER TABLE run_correction ADD CONSTRAINT fk_run_correction_instead_id FOREIGN KEY(instead_id) REFERENCES run (id);
ALTER TABLE run_correction ADD CONSTRAINT fk_run_correction_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE run_correction ADD CONSTRAINT fk_run_correction_run_id FOREIGN KEY(run_id) REFERENCES run (id);
CREATE INDEX ix_run_correction_instead_id ON run_correction (instead_id);
CREATE INDEX ix_run_correction_person_id ON run_correction (person_id);
CREATE UNIQUE INDEX ix_run_correction_run_id ON run_correction (run_id);
ALTER TABLE service_need ADD CONSTRAINT fk_service_need_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE service_need ADD CONSTRAINT fk_service_need_service_task_id FOREIGN KEY(service_task_id) REFERENCES service_task (id);
ALTER TABLE service_need ADD CONSTRAINT fk_service_need_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES service_need (id);
CREATE INDEX ix_service_need_part_type_id ON service_need (part_type_id);
CREATE INDEX ix_service_need_service_task_id ON service_need (service_task_id);
CREATE INDEX ix_service_need_supersedes_id ON service_need (supersedes_id);
ALTER TABLE service_step ADD CONSTRAINT fk_service_step_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE service_step ADD CONSTRAINT fk_service_step_service_task_id FOREIGN KEY(service_task_id) REFERENCES service_task (id);
ALTER TABLE service_step ADD CONSTRAINT fk_service_step_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES service_step (id);
CREATE INDEX ix_service_step_part_type_id ON service_step (part_type_id);
CREATE INDEX ix_service_step_service_task_id ON service_step (service_task_id);
CREATE INDEX ix_service_step_supersedes_id ON service_step (supersedes_id);
ALTER TABLE service_task ADD CONSTRAINT fk_service_task_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_service_task_unit_type_id ON service_task (unit_type_id);
ALTER TABLE service_work ADD CONSTRAINT fk_service_work_service_task_id FOREIGN KEY(service_task_id) REFERENCES service_task (id);
ALTER TABLE service_work ADD CONSTRAINT fk_service_work_task_id FOREIGN KEY(task_id) REFERENCES task (id);
CREATE INDEX ix_service_work_service_task_id ON service_work (service_task_id);
CREATE UNIQUE INDEX ix_service_work_task_id ON service_work (task_id);
ALTER TABLE sheet_signature ADD CONSTRAINT fk_sheet_signature_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE sheet_signature ADD CONSTRAINT fk_sheet_signature_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_sheet_signature_booking_unit_id ON sheet_signature (booking_unit_id);
CREATE INDEX ix_sheet_signature_person_id ON sheet_signature (person_id);
ALTER TABLE signature_drawing ADD CONSTRAINT fk_signature_drawing_sheet_signature_id FOREIGN KEY(sheet_signature_id) REFERENCES sheet_signature (id);
CREATE UNIQUE INDEX ix_signature_drawing_sheet_signature_id ON signature_drawing (sheet_signature_id);
ALTER TABLE signed_page ADD CONSTRAINT fk_signed_page_sheet_signature_id FOREIGN KEY(sheet_signature_id) REFERENCES sheet_signature (id);
CREATE UNIQUE INDEX ix_signed_page_sheet_signature_id ON signed_page (sheet_signature_id);
ALTER TABLE slot ADD CONSTRAINT fk_slot_assembly_type_id FOREIGN KEY(assembly_type_id) REFERENCES part_type (id);
ALTER TABLE slot ADD CONSTRAINT fk_slot_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_slot_assembly_type_id ON slot (assembly_type_id);
CREATE INDEX ix_slot_unit_type_id ON slot (unit_type_id);
ALTER TABLE slot_part_type ADD CONSTRAINT fk_slot_part_type_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE slot_part_type ADD CONSTRAINT fk_slot_part_type_slot_id FOREIGN KEY(slot_id) REFERENCES slot (id);
CREATE INDEX ix_slot_part_type_part_type_id ON slot_part_type (part_type_id);
CREATE INDEX ix_slot_part_type_slot_id ON slot_part_type (slot_id);
ALTER TABLE step_result ADD CONSTRAINT fk_step_result_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE step_result ADD CONSTRAINT fk_step_result_second_id FOREIGN KEY(second_id) REFERENCES person (id);
ALTER TABLE step_result ADD CONSTRAINT fk_step_result_service_step_id FOREIGN KEY(service_step_id) REFERENCES service_step (id);
ALTER TABLE step_result ADD CONSTRAINT fk_step_result_task_id FOREIGN KEY(task_id) REFERENCES task (id);
ALTER TABLE step_result ADD CONSTRAINT fk_step_result_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_step_result_person_id ON step_result (person_id);
CREATE INDEX ix_step_result_second_id ON step_result (second_id);
CREATE INDEX ix_step_result_service_step_id ON step_result (service_step_id);
CREATE INDEX ix_step_result_task_id ON step_result (task_id);
CREATE INDEX ix_step_result_ticket_id ON step_result (ticket_id);
ALTER TABLE stock_count ADD CONSTRAINT fk_stock_count_part_type_id FOREIGN KEY(part_type_id) REFERENCES part_type (id);
ALTER TABLE stock_count ADD CONSTRAINT fk_stock_count_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_stock_count_part_type_id ON stock_count (part_type_id);
CREATE INDEX ix_stock_count_person_id ON stock_count (person_id);
ALTER TABLE stock_take ADD CONSTRAINT fk_stock_take_container_id FOREIGN KEY(container_id) REFERENCES container (id);
ALTER TABLE stock_take ADD CONSTRAINT fk_stock_take_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE INDEX ix_stock_take_container_id ON stock_take (container_id);
CREATE INDEX ix_stock_take_person_id ON stock_take (person_id);
ALTER TABLE task ADD CONSTRAINT fk_task_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE task ADD CONSTRAINT fk_task_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_task_person_id ON task (person_id);
CREATE INDEX ix_task_ticket_id ON task (ticket_id);
ALTER TABLE ticket ADD CONSTRAINT fk_ticket_opened_by_id FOREIGN KEY(opened_by_id) REFERENCES person (id);
ALTER TABLE ticket ADD CONSTRAINT fk_ticket_refers_to_id FOREIGN KEY(refers_to_id) REFERENCES ticket (id);
ALTER TABLE ticket ADD CONSTRAINT fk_ticket_second_id FOREIGN KEY(second_id) REFERENCES person (id);
ALTER TABLE ticket ADD CONSTRAINT fk_ticket_signed_by_id FOREIGN KEY(signed_by_id) REFERENCES person (id);
ALTER TABLE ticket ADD CONSTRAINT fk_ticket_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_ticket_opened_by_id ON ticket (opened_by_id);
CREATE INDEX ix_ticket_refers_to_id ON ticket (refers_to_id);
CREATE INDEX ix_ticket_second_id ON ticket (second_id);
CREATE INDEX ix_ticket_signed_by_id ON ticket (signed_by_id);
CREATE INDEX ix_ticket_unit_id ON ticket (unit_id);
ALTER TABLE ticket_material ADD CONSTRAINT fk_ticket_material_part_id FOREIGN KEY(part_id) REFERENCES part (id);
ALTER TABLE ticket_material ADD CONSTRAINT fk_ticket_material_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE ticket_material ADD CONSTRAINT fk_ticket_material_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_ticket_material_part_id ON ticket_material (part_id);
CREATE INDEX ix_ticket_material_person_id ON ticket_material (person_id);
CREATE INDEX ix_ticket_material_ticket_id ON ticket_material (ticket_id);
ALTER TABLE ticket_time ADD CONSTRAINT fk_ticket_time_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE ticket_time ADD CONSTRAINT fk_ticket_time_supersedes_id FOREIGN KEY(supersedes_id) REFERENCES ticket_time (id);
ALTER TABLE ticket_time ADD CONSTRAINT fk_ticket_time_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
CREATE INDEX ix_ticket_time_person_id ON ticket_time (person_id);
CREATE INDEX ix_ticket_time_supersedes_id ON ticket_time (supersedes_id);
CREATE INDEX ix_ticket_time_ticket_id ON ticket_time (ticket_id);
ALTER TABLE turn_round ADD CONSTRAINT fk_turn_round_booking_unit_id FOREIGN KEY(booking_unit_id) REFERENCES booking_unit (id);
ALTER TABLE turn_round ADD CONSTRAINT fk_turn_round_finished_by_id FOREIGN KEY(finished_by_id) REFERENCES person (id);
ALTER TABLE turn_round ADD CONSTRAINT fk_turn_round_opened_by_id FOREIGN KEY(opened_by_id) REFERENCES person (id);
ALTER TABLE turn_round ADD CONSTRAINT fk_turn_round_ticket_id FOREIGN KEY(ticket_id) REFERENCES ticket (id);
ALTER TABLE turn_round ADD CONSTRAINT fk_turn_round_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id);
CREATE INDEX ix_turn_round_booking_unit_id ON turn_round (booking_unit_id);
CREATE INDEX ix_turn_round_finished_by_id ON turn_round (finished_by_id);
CREATE INDEX ix_turn_round_opened_by_id ON turn_round (opened_by_id);
CREATE INDEX ix_turn_round_ticket_id ON turn_round (ticket_id);
CREATE INDEX ix_turn_round_unit_id ON turn_round (unit_id);
ALTER TABLE turn_round_line ADD CONSTRAINT fk_turn_round_line_person_id FOREIGN KEY(person_id) REFERENCES person (id);
ALTER TABLE turn_round_line ADD CONSTRAINT fk_turn_round_line_service_task_id FOREIGN KEY(service_task_id) REFERENCES service_task (id);
ALTER TABLE turn_round_line ADD CONSTRAINT fk_turn_round_line_turn_round_id FOREIGN KEY(turn_round_id) REFERENCES turn_round (id);
CREATE INDEX ix_turn_round_line_person_id ON turn_round_line (person_id);
CREATE INDEX ix_turn_round_line_service_task_id ON turn_round_line (service_task_id);
ALTER TABLE unit ADD CONSTRAINT fk_unit_owner_id FOREIGN KEY(owner_id) REFERENCES owner (id);
ALTER TABLE unit ADD CONSTRAINT fk_unit_place_id FOREIGN KEY(place_id) REFERENCES place (id);
ALTER TABLE unit ADD CONSTRAINT fk_unit_unit_type_id FOREIGN KEY(unit_type_id) REFERENCES unit_type (id);
CREATE INDEX ix_unit_owner_id ON unit (owner_id);
CREATE INDEX ix_unit_place_id ON unit (place_id);
CREATE INDEX ix_unit_unit_type_id ON unit (unit_type_id);
ALTER TABLE unit_swap ADD CONSTRAINT fk_unit_swap_failed_id FOREIGN KEY(failed_id) REFERENCES booking_unit (id);
ALTER TABLE unit_swap ADD CONSTRAINT fk_unit_swap_instead_id FOREIGN KEY(instead_id) REFERENCES booking_unit (id);
ALTER TABLE unit_swap ADD CONSTRAINT fk_unit_swap_person_id FOREIGN KEY(person_id) REFERENCES person (id);
CREATE UNIQUE INDEX ix_unit_swap_failed_id ON unit_swap (failed_id);
CREATE UNIQUE INDEX ix_unit_swap_instead_id ON unit_swap (instead_id);
CREATE INDEX ix_unit_swap_person_id ON unit_swap (person_id);
INSERT INTO alembic_version (version_num) VALUES ('0032');
