"""The security checklist, row by row: OWASP API Top 10 of 2023 and ASVS 5.0.0, level 2.

Each row that applies has a file here, named after it, that tests it directly.

| row | what | where |
|---|---|---|
| 1 | object level (API1; 8.2.2, 8.4.1) | test_api1_object_level |
| 2 | tokens (API2; 7.2.3, 7.4.1) | test_api2_tokens; real workers: acceptance/test_workers |
| 3 | timing of a look-up (11.2.4) | test_token_lookup_timing |
| 4 | ids as permission (RFC 9562 s. 8) | test_ids_are_no_permission |
| 5 | mass assignment (API3; 15.3.3) | test_api3_mass_assignment |
| 6 | excess data (API3; 15.3.1, 8.2.3) | test_api3_excess_data |
| 7 | function level (API5; 8.2.1) | test_api5_function_level |
| 8 | resources (API4; 2.4.1, 15.2.2, 5.2.1) | test_api4_bounds |
| 9 | slow clients | api/test_slow_clients |
| 10 | JSON bombs | test_json_bombs |
| 11 | decompression (5.2.3) | test_decompression_bombs |
| 12 | requests going out (API7; 1.3.6) | test_api7_nothing_goes_out |
| 13 | misconfiguration (API8; 13.4.2, 13.4.5) | test_api8_defaults |
| 14 | inventory (API9; 15.1.2) | test_api9_inventory |
| 15 | business flow (API6; 2.3.2) | test_api6_flood |
| 16 | SQL (1.2.4) | test_sql_injection |
| 17, 18 | full text, wildcards (1.2.4, 4.3.1) | test_search_words_are_no_operators |
| 19 | patterns (1.3.12) | test_patterns_end |
| 20 | CSV (1.2.10) | test_csv_formulas |
| 21 | stored markup (1.2.1, 3.2.2) | test_stored_markup; phone/test_nothing_runs |
| 22, 23 | headers, pages (3.4.3 to 3.4.6) | test_headers_everywhere |
| 24 | other origins (3.5.1, 3.5.3, 3.3.2) | test_cross_origin; forms: api/test_plain_forms |
| 25 | forms | test_forms |
| 26 | TLS (12.1.1, 12.2.1) | test_tls |
| 27 | addresses (4.1.3, 15.3.4) | test_client_address |
| 28, 29 | logs (16.4.1, 16.2.5, 14.2.4) | test_log_lines |
| 30 | errors (16.5.1, 16.5.3) | test_errors_tell_nothing |
| 31 | parameters (15.3.7) | test_parameters_once |
| 32 | types (15.3.5) | test_types_are_strict |
| 33 | smuggling (4.2.1) | test_smuggling |
| 34 | anonymity | test_anonymity; classes of fewer than three: acceptance/test_pool_parcel |
| 35 | erasure | test_erasure_by_its_subject, store/test_erasure |
| 36 | data in a browser (14.3.1 to 3) | test_browser_data; phone/test_who_holds_it |
| 37 | supply chain | test_supply_chain, house/test_pins |

The conventions of the API; those that the project's own wire format overrides are left out.

| row | what | where |
|---|---|---|
| 1, 2 | problem details, no echo (RFC 9457) | api/test_problems |
| 4, 5 | HEAD, Allow (RFC 9110) | api/test_problems |
| 7, 8 | entity tags | api/test_reports |
| 12, 13 | client-made UUIDv7, sent twice | api/test_reports |
| 14 | times in UTC | api/test_reports (a month is all that is taken) |
| 15 | strict JSON (RFC 8259) | faults/test_bad_input, core/test_strict_json |
| 16 | an object at the top | api/test_document |
| 19, 20 | cursors, Link | api/test_lists |
| 21 | bearer tokens (RFC 6750) | api/test_signing_in |
| 22 | 429, 503 with Retry-After (23, RateLimit: not yet) | api/test_signing_in, test_problems |
| 24 | 413, 415 | faults/test_bad_input |
| 26 | caching | security/test_headers_everywhere |
| 27 | OpenAPI 3.1 | api/test_document, oracles/test_schemathesis |
| 29 | version in the path | security/test_api9_inventory |
| 32 | CSV (RFC 4180) | security/test_csv_formulas, api/test_bulk |
"""
